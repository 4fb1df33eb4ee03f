//! Sets of slots.

/// A set of slots (places in the order of `geom::Blocks`): one bit each, so asking costs one look.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct SlotSet {
    words: Vec<u64>,
}

impl SlotSet {
    /// The empty set.
    pub fn new() -> Self {
        Self::default()
    }

    /// Adds a slot.
    pub fn insert(&mut self, slot: u32) {
        let word = slot as usize / 64;
        if word >= self.words.len() {
            self.words.resize(word + 1, 0);
        }
        self.words[word] |= 1 << (slot % 64);
    }

    /// Takes a slot out.
    pub fn remove(&mut self, slot: u32) {
        if let Some(word) = self.words.get_mut(slot as usize / 64) {
            *word &= !(1 << (slot % 64));
        }
    }

    /// Whether a slot is in the set.
    pub fn contains(&self, slot: u32) -> bool {
        self.words
            .get(slot as usize / 64)
            .is_some_and(|w| w >> (slot % 64) & 1 == 1)
    }

    /// How many slots are in the set. Cost: all words are counted.
    pub fn len(&self) -> usize {
        self.words.iter().map(|w| w.count_ones() as usize).sum()
    }

    /// Whether there is none.
    pub fn is_empty(&self) -> bool {
        self.words.iter().all(|w| *w == 0)
    }
}

impl FromIterator<u32> for SlotSet {
    fn from_iter<I: IntoIterator<Item = u32>>(slots: I) -> Self {
        let mut set = Self::new();
        set.extend(slots);
        set
    }
}

impl Extend<u32> for SlotSet {
    fn extend<I: IntoIterator<Item = u32>>(&mut self, slots: I) {
        for s in slots {
            self.insert(s);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn holds_what_was_put_in() {
        let mut set: SlotSet = [0, 63, 64, 1000].into_iter().collect();
        assert_eq!(set.len(), 4);
        assert!(set.contains(64) && !set.contains(65) && !set.contains(u32::MAX));
        set.remove(64);
        set.remove(u32::MAX);
        assert!(!set.contains(64));
        assert_eq!(set.len(), 3);
        assert!(SlotSet::new().is_empty() && !set.is_empty());
    }
}
