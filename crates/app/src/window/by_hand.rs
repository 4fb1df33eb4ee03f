//! What is taken by hand: openings begun, boxes filled in, field sheets printed.

use editor::Editor;

use super::Window;
use crate::pages::by_hand::{BoxAt, Entering, Entry};
use crate::state::Step;

impl Window {
    /// A left and a right opening begin by hand, in the open job or a new one.
    pub(super) fn begin_by_hand(&mut self) {
        if self.open.is_none() {
            let editor = Editor::new_job(self.settings());
            self.take(editor, Step::BringIn);
        }
        let Some(editor) = &mut self.open else { return };
        match editor.begin_by_hand() {
            Ok(table) => {
                self.edited = true;
                self.view.step = Step::BringIn;
                self.view.scan = Some(table);
                self.view.entry = Entry::default();
                let first = BoxAt::default();
                self.view.entry.go_on(Entering::Focus(Some(first)));
            }
            Err(refused) => self.view.said = Some(refused.to_string()),
        }
    }

    /// What was typed into a box of a field sheet goes to the editor.
    pub(super) fn take_reading(&mut self, at: BoxAt, command: &editor::Command, text: String) {
        let Some(editor) = &mut self.open else { return };
        self.edited = true;
        self.view.entry.refused.remove(&at);
        if let Err(refused) = editor.apply(command) {
            let why = [refused.says(), refused.hint().to_owned()];
            self.view.entry.go_on(Entering::Refused(at, text, why));
        }
        self.view.said = None;
    }

    /// The field sheets of the job go to the printer's viewer.
    pub(super) fn print_field_sheet(&mut self) {
        let Some(editor) = &self.open else { return };
        let document = editor.document();
        let plans = document.field_plans();
        self.view.said = Some(self.printing.print_sheets(&plans, &document.job().title));
    }
}
