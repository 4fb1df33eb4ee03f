//! Sheets as pages of a PDF at true size: a pixel of a sheet is 1/96 inch, so that 100 mm on the sheet are 100 mm on
//! paper printed at 100 %.
//!
//! Strokes, fills and text stay what they are; the type is embedded whole, so that every reader shows the same. No
//! clock and no chance goes in: the same sheets give the same bytes.

use std::collections::{BTreeMap, BTreeSet};

use pdf_writer::types::{CidFontType, FontFlags, SystemInfo, UnicodeCmap};
use pdf_writer::{Content, Filter, Finish, Name, Pdf, Rect, Ref, Str, TextStr};
use ttf_parser::{Face, GlyphId};

use super::{Anchor, Item, Sheet};
use crate::theme::{Ink, Theme, face, plex, text_width};

/// Points of paper per pixel of a sheet.
const POINT: f32 = 72.0 / 96.0;
/// How far from the middle the handles of a quarter circle stand, as a share of the radius.
const KAPPA: f32 = 0.552_284_8;
const SYSTEM: SystemInfo = SystemInfo {
    registry: Str(b"Adobe"),
    ordering: Str(b"Identity"),
    supplement: 0,
};

/// A weight of the family in the file.
struct Font {
    weight: u16,
    name: &'static [u8],
    bytes: &'static [u8],
    /// Glyphs used, with what they stand for.
    used: BTreeMap<u16, char>,
}

/// The sheets as a PDF in the colours of paper, a page each.
///
/// Degenerate: without sheets a file of one empty page; letters the family lacks show as its empty box.
pub fn pdf_bytes(sheets: &[Sheet], title: &str) -> Vec<u8> {
    let mut fonts = fonts(sheets);
    let mut next = 1;
    let mut id = || {
        next += 1;
        Ref::new(next - 1)
    };
    let (catalog, tree, info) = (id(), id(), id());
    let font_ids: Vec<[Ref; 5]> = fonts.iter().map(|_| [(); 5].map(|()| id())).collect();
    let empty = [Sheet::empty([794.0, 1123.0], String::new())];
    let sheets = if sheets.is_empty() { &empty } else { sheets };
    let pages: Vec<[Ref; 2]> = sheets.iter().map(|_| [(); 2].map(|()| id())).collect();
    let mut pdf = Pdf::new();
    pdf.catalog(catalog)
        .pages(tree)
        .lang(TextStr("en"))
        .viewer_preferences()
        // A true-size sheet must not be fitted to the paper.
        .pair(Name(b"PrintScaling"), Name(b"None"));
    pdf.document_info(info)
        .title(TextStr(title))
        .producer(TextStr("unmirror"));
    pdf.pages(tree)
        .kids(pages.iter().map(|p| p[0]))
        .count(i32::try_from(pages.len()).unwrap_or(i32::MAX));
    for (sheet, [page_id, content_id]) in sheets.iter().zip(&pages) {
        let [w, h] = [sheet.width, sheet.height].map(|v| v as f32 * POINT);
        let mut page = pdf.page(*page_id);
        page.media_box(Rect::new(0.0, 0.0, w, h))
            .parent(tree)
            .contents(*content_id);
        let mut resources = page.resources();
        let mut dict = resources.fonts();
        for (font, ids) in fonts.iter().zip(&font_ids) {
            dict.pair(Name(font.name), ids[0]);
        }
        dict.finish();
        resources.finish();
        page.finish();
        let bytes = packed(&content(sheet, &fonts));
        pdf.stream(*content_id, &bytes).filter(Filter::FlateDecode);
    }
    for (font, ids) in fonts.iter_mut().zip(&font_ids) {
        embed(&mut pdf, font, *ids);
    }
    pdf.finish()
}

fn packed(bytes: &[u8]) -> Vec<u8> {
    miniz_oxide::deflate::compress_to_vec_zlib(bytes, 9)
}

/// The weights that the sheets use.
fn fonts(sheets: &[Sheet]) -> Vec<Font> {
    let all: [(u16, &'static [u8], &'static [u8]); 3] = [
        (400, b"PlexCondensed", plex::REGULAR),
        (500, b"PlexCondensedMedium", plex::MEDIUM),
        (600, b"PlexCondensedSemiBold", plex::SEMI_BOLD),
    ];
    let mut letters: [BTreeSet<char>; 3] = Default::default();
    for item in sheets.iter().flat_map(|s| &s.items) {
        if let Item::Text { weight, text, .. } = item {
            letters[slot(*weight)].extend(text.chars());
        }
    }
    all.into_iter()
        .zip(letters)
        .filter(|(_, letters)| !letters.is_empty())
        .map(|((weight, name, bytes), letters)| Font {
            weight,
            name,
            bytes,
            used: letters
                .into_iter()
                .map(|c| (glyph(face(weight), c).0, c))
                .collect(),
        })
        .collect()
}

/// Which of the three weights is nearest.
fn slot(weight: u16) -> usize {
    match weight {
        0..450 => 0,
        450..550 => 1,
        _ => 2,
    }
}

fn glyph(face: Option<&Face<'_>>, c: char) -> GlyphId {
    face.and_then(|f| f.glyph_index(c)).unwrap_or_default()
}

/// The operators of one page.
fn content(sheet: &Sheet, fonts: &[Font]) -> Vec<u8> {
    let mut c = Content::new();
    // Sheets run down, paper runs up.
    c.transform([POINT, 0.0, 0.0, -POINT, 0.0, sheet.height as f32 * POINT]);
    for item in &sheet.items {
        match item {
            Item::Path {
                points,
                closed,
                stroke,
                fill,
                ..
            } => path(&mut c, points, *closed, *stroke, *fill),
            Item::Disc {
                at, radius, fill, ..
            } => disc(&mut c, at.map(|v| v as f32), *radius as f32, *fill),
            Item::Text {
                at,
                size,
                weight,
                anchor,
                ink,
                text,
                ..
            } => {
                let wide = text_width(text, *size, *weight);
                let x = match anchor {
                    Anchor::Start => at[0],
                    Anchor::Middle => at[0] - wide / 2.0,
                    Anchor::End => at[0] - wide,
                };
                let Some(font) = fonts.iter().find(|f| slot(f.weight) == slot(*weight)) else {
                    continue;
                };
                let glyphs: Vec<u8> = text
                    .chars()
                    .flat_map(|l| glyph(face(font.weight), l).0.to_be_bytes())
                    .collect();
                fill_colour(&mut c, *ink);
                c.begin_text()
                    .set_font(Name(font.name), *size as f32)
                    .set_text_matrix([1.0, 0.0, 0.0, -1.0, x as f32, at[1] as f32])
                    .show(Str(&glyphs))
                    .end_text();
            }
        }
    }
    c.finish().to_vec()
}

fn rgb(ink: Ink) -> [f32; 3] {
    Theme::Paper.rgb(ink).map(|v| f32::from(v) / 255.0)
}

fn fill_colour(c: &mut Content, ink: Ink) {
    let [r, g, b] = rgb(ink);
    c.set_fill_rgb(r, g, b);
}

fn path(
    c: &mut Content,
    points: &[[f64; 2]],
    closed: bool,
    stroke: Option<(Ink, f64, super::Dash)>,
    fill: Option<Ink>,
) {
    if points.len() < 2 || (stroke.is_none() && fill.is_none()) {
        return;
    }
    if let Some(ink) = fill {
        fill_colour(c, ink);
    }
    if let Some((ink, width, dash)) = stroke {
        let [r, g, b] = rgb(ink);
        c.set_stroke_rgb(r, g, b)
            .set_line_width(width as f32)
            .set_dash_pattern(dash.pattern().iter().map(|v| *v as f32), 0.0);
    }
    for (i, [x, y]) in points.iter().enumerate() {
        let (x, y) = (*x as f32, *y as f32);
        if i == 0 {
            c.move_to(x, y);
        } else {
            c.line_to(x, y);
        }
    }
    if closed {
        c.close_path();
    }
    match (fill, stroke) {
        (Some(_), Some(_)) => c.fill_nonzero_and_stroke(),
        (Some(_), None) => c.fill_nonzero(),
        _ => c.stroke(),
    };
}

fn disc(c: &mut Content, [x, y]: [f32; 2], r: f32, ink: Ink) {
    fill_colour(c, ink);
    let k = r * KAPPA;
    c.move_to(x + r, y)
        .cubic_to(x + r, y + k, x + k, y + r, x, y + r)
        .cubic_to(x - k, y + r, x - r, y + k, x - r, y)
        .cubic_to(x - r, y - k, x - k, y - r, x, y - r)
        .cubic_to(x + k, y - r, x + r, y - k, x + r, y)
        .close_path()
        .fill_nonzero();
}

/// Writes a weight as a composite font whose codes are its glyph numbers.
fn embed(pdf: &mut Pdf, font: &Font, [id, cid, descriptor, file, unicode]: [Ref; 5]) {
    let Some(face) = face(font.weight) else {
        return;
    };
    let em = |v: i16| f32::from(v) * 1000.0 / f32::from(face.units_per_em());
    pdf.type0_font(id)
        .base_font(Name(font.name))
        .encoding_predefined(Name(b"Identity-H"))
        .descendant_font(cid)
        .to_unicode(unicode);
    let mut composite = pdf.cid_font(cid);
    composite
        .subtype(CidFontType::Type2)
        .base_font(Name(font.name))
        .system_info(SYSTEM)
        .font_descriptor(descriptor)
        .default_width(0.0)
        .cid_to_gid_map_predefined(Name(b"Identity"));
    let mut widths = composite.widths();
    for gid in font.used.keys() {
        let advance = face.glyph_hor_advance(GlyphId(*gid)).unwrap_or(0);
        widths.consecutive(*gid, [em(i16::try_from(advance).unwrap_or(i16::MAX))]);
    }
    widths.finish();
    composite.finish();
    let bounds = face.global_bounding_box();
    pdf.font_descriptor(descriptor)
        .name(Name(font.name))
        .flags(FontFlags::SYMBOLIC)
        .bbox(Rect::new(
            em(bounds.x_min),
            em(bounds.y_min),
            em(bounds.x_max),
            em(bounds.y_max),
        ))
        .italic_angle(0.0)
        .ascent(em(face.ascender()))
        .descent(em(face.descender()))
        .cap_height(em(face.capital_height().unwrap_or(700)))
        .stem_v(80.0)
        .font_file2(file);
    let mut map = UnicodeCmap::new(Name(b"Letters"), SYSTEM);
    for (gid, letter) in &font.used {
        map.pair(*gid, *letter);
    }
    pdf.cmap(unicode, &map.finish());
    let bytes = packed(font.bytes);
    let mut stream = pdf.stream(file, &bytes);
    stream.filter(Filter::FlateDecode);
    stream.pair(
        Name(b"Length1"),
        i32::try_from(font.bytes.len()).unwrap_or(i32::MAX),
    );
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sheet::Dash;

    fn sheet() -> Sheet {
        let mut sheet = Sheet::empty([200.0, 100.0], "a test".to_owned());
        sheet.line(&[[10.0, 50.0], [110.0, 50.0]], Ink::Ink, 1.0);
        sheet.path(
            vec![[0.0, 0.0], [50.0, 0.0], [50.0, 50.0]],
            true,
            Some((Ink::Right, 2.0, Dash::Right)),
            Some(Ink::Sheet),
        );
        sheet.disc([20.0, 20.0], 5.0, Ink::Left);
        sheet.text(
            [10.0, 90.0],
            (15.0, 400),
            Anchor::Start,
            Ink::Ink,
            "−1.3° ±0.2",
        );
        sheet
    }

    #[test]
    fn a_page_has_the_size_of_its_sheet_and_the_same_sheets_give_the_same_bytes() {
        let bytes = pdf_bytes(&[sheet(), sheet()], "Test");
        let text = String::from_utf8_lossy(&bytes);
        assert!(text.starts_with("%PDF-1.7"));
        assert_eq!(text.matches("/MediaBox [0 0 150 75]").count(), 2, "{text}");
        assert!(text.contains("/PrintScaling /None"));
        assert_eq!(bytes, pdf_bytes(&[sheet(), sheet()], "Test"));
    }

    #[test]
    fn only_the_weights_in_use_are_embedded_and_the_text_can_be_found() {
        let bytes = pdf_bytes(&[sheet()], "Test");
        let text = String::from_utf8_lossy(&bytes);
        assert_eq!(text.matches("/FontFile2").count(), 1);
        // U+2212, the minus sign, stands in the table that leads from glyphs to letters.
        assert!(text.contains("<2212>") && text.contains("<00B1>"));
        let drawn = String::from_utf8(content(&sheet(), &fonts(&[sheet()]))).unwrap();
        for operator in [
            "10 50 m\n110 50 l\nS",
            "[8 3] 0 d",
            "h\nB",
            "h\nf",
            "/PlexCondensed 15 Tf",
            " Tj",
        ] {
            assert!(drawn.contains(operator), "{operator} is missing in {drawn}");
        }
    }

    #[test]
    fn without_sheets_there_is_one_empty_page() {
        let bytes = pdf_bytes(&[], "Nothing");
        assert!(String::from_utf8_lossy(&bytes).contains("/Count 1"));
    }
}
