//! Undo and redo: whole jobs, each with the name of the command that led to it.

use std::sync::Arc;

use record::Job;

/// One step: what was done and the job before it.
#[derive(Clone, Debug)]
struct Step {
    name: String,
    before: Arc<Job>,
    /// A gesture (dragging, typing) still goes on: what follows with the same key joins this step.
    open: Option<String>,
}

/// What came of [`History::step`].
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Stepped {
    /// The job is as it was.
    Nothing,
    /// There is a new step.
    New,
    /// The last step goes on.
    Joined,
}

/// The job as it is, with the steps that led to it and those that were taken back.
#[derive(Clone, Debug)]
pub(crate) struct History {
    now: Arc<Job>,
    done: Vec<Step>,
    /// Taken back: name and the job after it, the next to be done again last.
    undone: Vec<(String, Arc<Job>)>,
}

impl History {
    pub fn new(job: Arc<Job>) -> Self {
        Self {
            now: job,
            done: Vec::new(),
            undone: Vec::new(),
        }
    }

    pub fn now(&self) -> &Arc<Job> {
        &self.now
    }

    /// A new step. With a `gesture` it joins the last step if that has the same one open.
    /// A gesture that comes back to where it began leaves no step.
    pub fn step(&mut self, name: String, after: Job, gesture: Option<String>) -> Stepped {
        if after == *self.now {
            return Stepped::Nothing;
        }
        let after = Arc::new(after);
        let joins = gesture.is_some() && self.done.last().is_some_and(|s| s.open == gesture);
        if joins {
            if let Some(last) = self.done.last_mut() {
                last.name = name;
                if *last.before == *after {
                    self.done.pop();
                }
            }
        } else {
            self.settle();
            self.done.push(Step {
                name,
                before: Arc::clone(&self.now),
                open: gesture,
            });
        }
        self.now = after;
        self.undone.clear();
        if joins { Stepped::Joined } else { Stepped::New }
    }

    /// Ends a gesture.
    pub fn settle(&mut self) {
        if let Some(last) = self.done.last_mut() {
            last.open = None;
        }
    }

    /// Takes the last step back; its name.
    pub fn undo(&mut self) -> Option<String> {
        let step = self.done.pop()?;
        self.undone.push((step.name.clone(), Arc::clone(&self.now)));
        self.now = step.before;
        self.settle();
        Some(step.name)
    }

    /// Does the step last taken back again; its name.
    pub fn redo(&mut self) -> Option<String> {
        let (name, after) = self.undone.pop()?;
        self.settle();
        self.done.push(Step {
            name: name.clone(),
            before: std::mem::replace(&mut self.now, after),
            open: None,
        });
        Some(name)
    }

    /// Names of the steps that can be taken back, the next first.
    pub fn undo_names(&self) -> impl Iterator<Item = &str> {
        self.done.iter().rev().map(|s| s.name.as_str())
    }

    /// Names of the steps that can be done again, the next first.
    pub fn redo_names(&self) -> impl Iterator<Item = &str> {
        self.undone.iter().rev().map(|s| s.0.as_str())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn titled(title: &str) -> Job {
        Job {
            title: title.to_owned(),
            ..Job::default()
        }
    }

    #[test]
    fn undo_and_redo_come_back_to_the_same_job() {
        let mut h = History::new(Arc::new(titled("a")));
        assert_eq!(h.step("b".into(), titled("b"), None), Stepped::New);
        assert_eq!(h.step("c".into(), titled("c"), None), Stepped::New);
        let again = h.step("c again".into(), titled("c"), None);
        assert_eq!(again, Stepped::Nothing);
        assert_eq!(h.undo().as_deref(), Some("c"));
        assert_eq!(h.now().title, "b");
        assert_eq!(h.undo().as_deref(), Some("b"));
        assert_eq!(h.undo(), None);
        assert_eq!(h.now().title, "a");
        assert_eq!(h.redo_names().collect::<Vec<_>>(), ["b", "c"]);
        assert_eq!(h.redo().as_deref(), Some("b"));
        assert_eq!(h.redo().as_deref(), Some("c"));
        assert_eq!(h.redo(), None);
        assert_eq!(h.now().title, "c");
        h.undo();
        h.step("d".into(), titled("d"), None);
        assert_eq!(h.redo(), None, "a new step ends what could be done again");
    }

    #[test]
    fn a_gesture_is_one_step() {
        let mut h = History::new(Arc::new(titled("")));
        let typing = || Some("title".to_owned());
        for t in ["l", "la", "lam", "lamp"] {
            h.step(format!("title: {t}"), titled(t), typing());
        }
        assert_eq!(h.undo_names().collect::<Vec<_>>(), ["title: lamp"]);
        h.settle();
        h.step("title: x".into(), titled("x"), typing());
        assert_eq!(h.undo_names().count(), 2, "a new gesture, a new step");
        h.undo();
        assert_eq!(h.now().title, "lamp");
        h.undo();
        assert_eq!(h.now().title, "");
        for t in ["l", ""] {
            h.step("title".into(), titled(t), typing());
        }
        assert_eq!(h.undo_names().count(), 0, "there and back is no step");
    }
}
