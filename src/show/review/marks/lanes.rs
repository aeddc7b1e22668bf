//! Words side by side in lines, none over another.

/// From one word to the next.
const GAP: f64 = 6.0;

/// Lines, each with the right end of what stands in it.
#[derive(Default)]
pub(super) struct Lanes(Vec<f64>);

impl Lanes {
    /// The first line that is free from `left` on, 0 next to the staff; taken up to `right`. Asked from left to right.
    pub(super) fn place(&mut self, left: f64, right: f64) -> usize {
        let free = self.0.iter().position(|&end| end + GAP <= left);
        let lane = free.unwrap_or_else(|| {
            self.0.push(0.0);
            self.0.len() - 1
        });
        self.0[lane] = right;
        lane
    }

    pub(super) fn count(&self) -> usize {
        self.0.len()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_would_overlap_goes_into_the_next_line() {
        let mut lanes = Lanes::default();
        let placed: Vec<usize> = [(0.0, 20.0), (10.0, 30.0), (26.0, 40.0), (30.0, 50.0)]
            .map(|(left, right)| lanes.place(left, right))
            .into();
        assert_eq!(placed, [0, 1, 0, 2]);
        assert_eq!(lanes.count(), 3);
    }
}
