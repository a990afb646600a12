//! What is made once and remembered: tables and fits by what they hang on.

use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, PoisonError};

/// Values by key; when there are too many, all are forgotten.
#[derive(Debug)]
pub(super) struct Memo<K, V> {
    most: usize,
    known: Mutex<BTreeMap<K, Arc<V>>>,
}

impl<K: Ord, V> Memo<K, V> {
    /// Remembers `most` values.
    pub(super) const fn new(most: usize) -> Self {
        Self {
            most,
            known: Mutex::new(BTreeMap::new()),
        }
    }

    /// The value for `key`, made by one thread while the others wait.
    pub(super) fn get(&self, key: K, make: impl FnOnce() -> V) -> Arc<V> {
        let mut known = self.known.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(value) = known.get(&key) {
            return Arc::clone(value);
        }
        let value = Arc::new(make());
        self.keep(&mut known, key, &value);
        value
    }

    /// The same for a value that all threads make together: one that waited for its own part might be given
    /// a task that asks for the same key, so that nothing is held meanwhile, and two may make it at once.
    pub(super) fn get_unheld(&self, key: K, make: impl FnOnce() -> V) -> Arc<V> {
        let lock = || self.known.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(value) = lock().get(&key).cloned() {
            return value;
        }
        let value = Arc::new(make());
        self.keep(&mut lock(), key, &value);
        value
    }

    fn keep(&self, known: &mut BTreeMap<K, Arc<V>>, key: K, value: &Arc<V>) {
        if known.len() >= self.most {
            known.clear();
        }
        known.insert(key, Arc::clone(value));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_value_is_made_once_until_there_are_too_many() {
        let memo = Memo::new(2);
        let mut made = 0;
        let mut ask = |key: u32, held: bool| {
            let make = || {
                made += 1;
                10 * key
            };
            let value = if held {
                memo.get(key, make)
            } else {
                memo.get_unheld(key, make)
            };
            (*value, made)
        };
        assert_eq!(ask(1, true), (10, 1), "made");
        assert_eq!(ask(1, false), (10, 1), "remembered");
        assert_eq!(ask(2, false), (20, 2), "made");
        assert_eq!(ask(2, true), (20, 2), "remembered");
        assert_eq!(ask(3, true), (30, 3), "the third of two");
        assert_eq!(ask(1, true), (10, 4), "forgotten, and made again");
    }
}
