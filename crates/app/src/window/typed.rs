//! What was typed on the page of the centreline goes to the editor.

use super::Window;

impl Window {
    /// The place typed on the page of the centreline goes to the editor.
    pub(super) fn take_place(&mut self) {
        let Some(editor) = &mut self.open else { return };
        let line = &mut self.view.line;
        match editor.take_place(&line.typed, line.number) {
            Ok(()) => {
                self.edited = true;
                line.taken();
            }
            Err(refused) => line.refused = Some([refused.says(), refused.hint().to_owned()]),
        }
    }

    /// The taped length typed there.
    pub(super) fn take_length(&mut self) {
        let Some(editor) = &mut self.open else { return };
        let line = &mut self.view.line;
        match editor.take_length(&line.tape) {
            Ok(()) => {
                self.edited = true;
                line.tape = editor::TypedLength {
                    u95: line.tape.u95.clone(),
                    ..editor::TypedLength::default()
                };
                line.tape_refused = None;
            }
            Err(refused) => {
                line.tape_refused = Some([refused.says(), refused.hint().to_owned()]);
            }
        }
    }

    /// The start of a join typed there.
    pub(super) fn take_start(&mut self) {
        let Some(editor) = &mut self.open else { return };
        let line = &mut self.view.line;
        let Some((number, typed)) = line.start.clone() else {
            return;
        };
        match editor.take_start(number, &typed) {
            Ok(()) => {
                self.edited = true;
                line.start = None;
                line.start_refused = None;
            }
            Err(refused) => {
                line.start_refused = Some([refused.says(), refused.hint().to_owned()]);
            }
        }
    }
}
