//! A line with few corners through a row of gates.

/// Gates end so many cells from their middle; the centres that they run between are
/// half a cell away.
pub(super) const REACH: f64 = 0.45;

/// A side longer than so many cells gets corners between, so that it follows the
/// grid's curve in longitude and latitude.
const LONGEST: f64 = 16.0;

/// A point or a way, x in columns and y in rows downwards.
type Pair = (f64, f64);

/// A line being made: from its last corner it looks through the gates that come as
/// long as one way passes all of them, and puts the next corner into the last of these.
/// As two gates in a row bound a convex piece, what passes both stays in it.
pub(super) struct Taut<'a> {
    line: &'a mut Vec<Pair>,
    corner: Pair,
    sight: Option<Sight>,
}

/// What a corner sees.
struct Sight {
    /// The outermost ways through all gates so far.
    left: Pair,
    right: Pair,
    /// The ends of the last one.
    gate: (Pair, Pair),
}

/// Above zero where the way `to` turns left of `from`, and how far.
fn turn(from: Pair, to: Pair) -> f64 {
    // y goes down.
    from.1 * to.0 - from.0 * to.1
}

fn way(from: Pair, to: Pair) -> Pair {
    (to.0 - from.0, to.1 - from.1)
}

impl<'a> Taut<'a> {
    /// Begins a line at `start`, behind what `line` holds already.
    pub(super) fn from(start: Pair, line: &'a mut Vec<Pair>) -> Self {
        line.push(start);
        Self { line, corner: start, sight: None }
    }

    /// The next gate, by its left and right end as the line passes it.
    pub(super) fn pass(&mut self, left: Pair, right: Pair) {
        let seen = self.sight.take();
        let narrowed = seen.as_ref().and_then(|seen| seen.narrowed(self.corner, (left, right)));
        if let (Some(seen), None) = (&seen, &narrowed) {
            self.put(seen.corner(self.corner));
        }
        let sight = narrowed.unwrap_or_else(|| self.open(left, right));
        self.sight = Some(sight);
    }

    /// Ends the line behind the last gate.
    pub(super) fn end(mut self, end: Pair) {
        let seen = self.sight.take();
        let hidden = seen.filter(|seen| seen.narrowed(self.corner, (end, end)).is_none());
        if let Some(seen) = hidden {
            self.put(seen.corner(self.corner));
        }
        self.put(end);
    }

    fn open(&self, left: Pair, right: Pair) -> Sight {
        Sight { left: way(self.corner, left), right: way(self.corner, right), gate: (left, right) }
    }

    /// Puts a corner, and others on a long way to it.
    fn put(&mut self, to: Pair) {
        let (x, y) = way(self.corner, to);
        // A side of the map at the most.
        let parts = (x.hypot(y) / LONGEST).ceil().max(1.0) as u32;
        self.line.extend((1..parts).map(|part| {
            let share = f64::from(part) / f64::from(parts);
            (self.corner.0 + x * share, self.corner.1 + y * share)
        }));
        self.line.push(to);
        self.corner = to;
    }
}

impl Sight {
    /// What is still seen through one more gate; nothing if none of it is.
    fn narrowed(&self, corner: Pair, gate: (Pair, Pair)) -> Option<Self> {
        let (left, right) = (way(corner, gate.0), way(corner, gate.1));
        let left = if turn(self.left, left) < 0.0 { left } else { self.left };
        let right = if turn(self.right, right) > 0.0 { right } else { self.right };
        (turn(right, left) >= 0.0).then_some(Self { left, right, gate })
    }

    /// The place in the last gate nearest to its middle that is seen.
    fn corner(&self, from: Pair) -> Pair {
        let (left, right) = self.gate;
        // Shares of the gate from its right end: how far a way is turned from the
        // outermost ones changes evenly along it.
        let share = |outermost: Pair, none: f64| {
            let at = |end: Pair| turn(outermost, way(from, end));
            let (here, there) = (at(right), at(left));
            let share = here / (here - there);
            if share.is_finite() { share.clamp(0.0, 1.0) } else { none }
        };
        let (low, high) = (share(self.right, 0.0), share(self.left, 1.0));
        let share = 0.5_f64.min(high).max(low);
        (right.0 + (left.0 - right.0) * share, right.1 + (left.1 - right.1) * share)
    }
}
