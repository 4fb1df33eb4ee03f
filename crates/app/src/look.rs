//! The look of the sheet carried over to egui: type family, colours, spacing. Nothing here is a value of its own.

use std::sync::Arc;

use crate::letter::{BODY, CAPTION, HEAD, Letter, NAMED};
use egui::{
    Color32, Context, CornerRadius, FontData, FontDefinitions, FontFamily, FontId, Margin, Shadow,
    Stroke, TextStyle, Vec2,
};
use report::Theme;
use report::theme::{Ink, line, plex, space, weight};

/// Which of the two sheets a context shows; egui knows them as its light and dark theme.
pub fn theme_of(ctx: &Context) -> Theme {
    match ctx.theme() {
        egui::Theme::Light => Theme::Paper,
        egui::Theme::Dark => Theme::Slate,
    }
}

/// The value of a role.
pub fn colour(theme: Theme, ink: Ink) -> Color32 {
    let [r, g, b] = theme.rgb(ink);
    Color32::from_rgb(r, g, b)
}

/// The type of a role.
pub fn font((size, weight): Letter) -> FontId {
    FontId::new(size as f32, family(weight))
}

fn family(weight: u16) -> FontFamily {
    match weight {
        0..450 => FontFamily::Proportional,
        450..550 => FontFamily::Name("medium".into()),
        _ => FontFamily::Name("semi-bold".into()),
    }
}

/// Gives a context the type family and both themes. Once, before the first pass.
pub fn dress(ctx: &Context) {
    let mut fonts = FontDefinitions::empty();
    for (name, bytes, families) in [
        (
            "plex-400",
            plex::REGULAR,
            vec![FontFamily::Proportional, FontFamily::Monospace],
        ),
        ("plex-500", plex::MEDIUM, vec![family(weight::MEDIUM)]),
        ("plex-600", plex::SEMI_BOLD, vec![family(weight::SEMI_BOLD)]),
    ] {
        fonts
            .font_data
            .insert(name.to_owned(), Arc::new(FontData::from_static(bytes)));
        for family in families {
            fonts
                .families
                .entry(family)
                .or_default()
                .push(name.to_owned());
        }
    }
    ctx.set_fonts(fonts);
    for (theirs, ours) in [
        (egui::Theme::Light, Theme::Paper),
        (egui::Theme::Dark, Theme::Slate),
    ] {
        ctx.style_mut_of(theirs, |style| set_style(style, ours));
    }
}

fn set_style(style: &mut egui::Style, theme: Theme) {
    let of = |ink| colour(theme, ink);
    style.text_styles = [
        (TextStyle::Heading, font(HEAD)),
        (TextStyle::Body, font(BODY)),
        (TextStyle::Button, font(NAMED)),
        (TextStyle::Small, font(CAPTION)),
        (TextStyle::Monospace, font(BODY)),
    ]
    .into();
    style.animation_time = 0.0;
    style.spacing.item_spacing = Vec2::splat(space::GAP as f32);
    style.spacing.button_padding = Vec2::new(space::WIDE_GAP as f32, 0.0);
    style.spacing.interact_size = Vec2::new(space::CONTROL as f32, space::SMALL_CONTROL as f32);
    style.spacing.window_margin = Margin::same(space::INSIDE as i8);
    style.spacing.menu_margin = Margin::same(space::GAP as i8);
    let v = &mut style.visuals;
    v.dark_mode = theme == Theme::Slate;
    v.override_text_color = None;
    v.panel_fill = of(Ink::Margin);
    v.window_fill = of(Ink::Sheet);
    v.window_stroke = Stroke::new(line::SHEET as f32, of(Ink::Rule));
    v.window_corner_radius = CornerRadius::ZERO;
    v.menu_corner_radius = CornerRadius::ZERO;
    v.window_shadow = Shadow::NONE;
    v.popup_shadow = Shadow::NONE;
    v.faint_bg_color = of(Ink::Field);
    v.extreme_bg_color = of(Ink::Sheet);
    v.text_edit_bg_color = Some(of(Ink::Sheet));
    v.code_bg_color = of(Ink::Field);
    v.warn_fg_color = of(Ink::NotProven);
    v.error_fg_color = of(Ink::WillNotFit);
    v.hyperlink_color = of(Ink::Ink);
    v.selection.bg_fill = of(Ink::Hair);
    v.selection.stroke = Stroke::new(1.0, of(Ink::Ink));
    v.text_cursor.stroke = Stroke::new(line::FOCUS as f32, of(Ink::Ink));
    let state = |fill, edge, wide: f64, text| egui::style::WidgetVisuals {
        bg_fill: of(fill),
        weak_bg_fill: of(fill),
        bg_stroke: Stroke::new(wide as f32, of(edge)),
        corner_radius: CornerRadius::ZERO,
        fg_stroke: Stroke::new(1.0, of(text)),
        expansion: 0.0,
    };
    v.widgets.noninteractive = state(Ink::Sheet, Ink::Hair, line::HAIR, Ink::Ink);
    v.widgets.inactive = state(Ink::Sheet, Ink::Ink2, line::FIELD, Ink::Ink);
    v.widgets.hovered = state(Ink::Pick, Ink::Ink, line::FIELD, Ink::Ink);
    v.widgets.active = state(Ink::Pick, Ink::Ink, line::FOCUS, Ink::Ink);
    v.widgets.open = state(Ink::Pick, Ink::Ink, line::FIELD, Ink::Ink);
}
