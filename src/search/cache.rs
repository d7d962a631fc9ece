//! Values that follow from their keys, kept until they take too much memory.

use std::collections::HashMap;
use std::hash::Hash;
use std::sync::{Arc, Mutex, MutexGuard, OnceLock, PoisonError};

/// How much memory a value takes, about, in bytes.
pub trait Weigh {
    /// Bytes on the heap.
    fn bytes(&self) -> usize;
}

/// A cache that is emptied when it is full. Which values it holds depends on the order in which threads ask; the values do
/// not, so no answer depends on it.
#[derive(Debug)]
pub struct Cache<K, V> {
    held: Mutex<Held<K, V>>,
    limit: usize,
}

#[derive(Debug)]
struct Held<K, V> {
    values: HashMap<K, Arc<OnceLock<Arc<V>>>>,
    bytes: usize,
}

/// What an entry takes beside its value: key, pointers, the table's empty places.
const ENTRY: usize = 96;

impl<K: Hash + Eq + Copy, V: Weigh> Cache<K, V> {
    /// A cache of `limit` bytes at most, or one value if that alone is larger.
    #[must_use]
    pub fn new(limit: usize) -> Self {
        Self { held: Mutex::new(Held { values: HashMap::new(), bytes: 0 }), limit }
    }

    fn held(&self) -> MutexGuard<'_, Held<K, V>> {
        // A thread that panicked while it held the lock leaves whole entries behind: they are inserted at one go.
        self.held.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// The value of a key, made if it is not there. A thread that asks for what another one is making waits for it, so `make`
    /// must not ask the same cache, nor wait for other threads.
    pub fn get(&self, key: K, make: impl FnOnce() -> V) -> Arc<V> {
        let place = Arc::clone(self.held().values.entry(key).or_default());
        let mut bytes = 0;
        let value = place.get_or_init(|| {
            let made = make();
            bytes = made.bytes() + ENTRY;
            Arc::new(made)
        });
        let value = Arc::clone(value);
        if bytes > 0 {
            let mut held = self.held();
            if held.bytes + bytes > self.limit {
                held.values.clear();
                held.bytes = 0;
                held.values.insert(key, place);
            }
            held.bytes += bytes;
        }
        value
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::cell::Cell;

    struct Thing(usize);

    impl Weigh for Thing {
        fn bytes(&self) -> usize {
            self.0
        }
    }

    #[test]
    fn a_value_is_made_once_while_there_is_room_for_it() {
        let cache = Cache::new(3 * (100 + ENTRY));
        let made = Cell::new(0);
        let ask = |key: u32| {
            cache.get(key, || {
                made.set(made.get() + 1);
                Thing(100)
            })
        };
        for key in [1, 2, 3, 1, 2, 3] {
            ask(key);
        }
        assert_eq!(made.get(), 3);
        // The fourth has no room: all others go.
        ask(4);
        ask(4);
        assert_eq!(made.get(), 4);
        ask(1);
        assert_eq!(made.get(), 5);
    }

    #[test]
    fn a_value_larger_than_the_cache_is_still_given() {
        let cache = Cache::new(10);
        assert_eq!(cache.get(1, || Thing(1000)).0, 1000);
        assert_eq!(cache.get(2, || Thing(2000)).0, 2000);
    }
}
