//! Things in an order in which each comes after what it hangs on.

/// `things` in such an order, else in their own; `on` tells what one hangs on, and all are below `count`.
///
/// # Errors
/// A ring of things that hang on each other, of which `matters` says that it cannot be passed over.
pub(super) fn in_order(
    things: impl IntoIterator<Item = usize>,
    count: usize,
    on: impl Fn(usize) -> Vec<usize>,
    matters: impl Fn(&[usize]) -> bool,
) -> Result<Vec<usize>, Vec<usize>> {
    let mut state = vec![State::Unseen; count];
    let mut order = Vec::new();
    for first in things {
        if state[first] != State::Unseen {
            continue;
        }
        // A walk with its own stack: a long chain must not exhaust the thread's.
        let mut stack = vec![(first, on(first).into_iter())];
        state[first] = State::Open;
        while let Some((thing, waiting)) = stack.last_mut() {
            match waiting.next() {
                Some(next) if state[next] == State::Unseen => {
                    state[next] = State::Open;
                    stack.push((next, on(next).into_iter()));
                }
                Some(next) if state[next] == State::Open => {
                    let ring = stack.iter().map(|(thing, _)| *thing).skip_while(|thing| *thing != next);
                    let ring: Vec<usize> = ring.collect();
                    if matters(&ring) {
                        return Err(ring);
                    }
                }
                Some(_) => {}
                None => {
                    state[*thing] = State::Done;
                    order.push(*thing);
                    stack.pop();
                }
            }
        }
    }
    Ok(order)
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum State {
    Unseen,
    Open,
    Done,
}
