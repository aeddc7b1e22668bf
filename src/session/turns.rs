//! Whose turn it is: seats, queues, and the director's steps that change them.
//!
//! In: the plan, takes that count, steps. Out: who plays next on each lane, and who after. No clock, no ports. A player is
//! on one seat, in one queue, absent, or through; never in two places.

use super::{Outcome, Plan, Plays, Step, Turn};
use std::collections::VecDeque;
use std::sync::Arc;

/// The turns of a session.
pub(super) struct Turns {
    seats: Vec<Seat>,
    queues: Vec<VecDeque<Waiting>>,
    /// Takes that count, by player.
    takes: Vec<usize>,
    /// What can be taken back, the last one last.
    done: Vec<Done>,
}

/// The place at one lane.
struct Seat {
    plays: Plays,
    now: Option<Waiting>,
    /// Who played on it last.
    last: Option<usize>,
}

/// A player with so many takes to play.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Waiting {
    player: usize,
    left: usize,
}

impl Waiting {
    fn one_less(self) -> Option<Waiting> {
        (self.left > 1).then_some(Waiting { left: self.left - 1, ..self })
    }
}

/// A step that can be taken back.
enum Done {
    Absent { lane: usize, waiting: Waiting },
    Skipped { lane: usize, waiting: Waiting },
    Retake { player: usize },
    Thrown(Vec<Arc<Outcome>>),
}

/// What was taken back.
#[derive(Debug)]
pub(super) enum Undone {
    /// A step.
    Step(Step),
    /// Takes that had been thrown away.
    Back(Vec<Arc<Outcome>>),
}

/// Why a step cannot be done, in a sentence.
type Refused = String;

impl Turns {
    /// The first of each queue on the lanes, in their order.
    pub(super) fn new(plan: &Plan) -> Turns {
        let queue = |players: &Vec<usize>| {
            let left = plan.takes.unwrap_or(1);
            players.iter().map(|&player| Waiting { player, left }).collect()
        };
        let seat = |plays: Plays| {
            let left = plan.takes.unwrap_or(usize::MAX);
            let now = match plays {
                Plays::Always(player) => Some(Waiting { player, left }),
                Plays::Queue(_) => None,
            };
            Seat { plays, now, last: None }
        };
        let mut turns = Turns {
            seats: plan.lanes.iter().map(|lane| seat(lane.plays)).collect(),
            queues: plan.queues.iter().map(queue).collect(),
            takes: vec![0; plan.players.len()],
            done: Vec::new(),
        };
        turns.fill();
        turns
    }

    /// Who plays next, lane by lane; lanes without anybody are left out.
    pub(super) fn ahead(&self) -> Vec<Turn> {
        let seats = self.seats.iter().enumerate();
        seats.filter_map(|(lane, seat)| Some(self.turn(lane, seat.now?.player))).collect()
    }

    /// The next take of a player on a lane.
    fn turn(&self, lane: usize, player: usize) -> Turn {
        Turn { lane, player, take: self.takes.get(player).map_or(1, |takes| takes + 1) }
    }

    /// Who waits for each lane, the next one first.
    pub(super) fn waiting(&self) -> Vec<Vec<usize>> {
        let of = |seat: &Seat| self.queue(seat.plays).map(|queue| queue.iter().map(|waiting| waiting.player).collect());
        self.seats.iter().map(|seat| of(seat).unwrap_or_default()).collect()
    }

    /// Whether everybody is through.
    pub(super) fn is_through(&self) -> bool {
        self.seats.iter().all(|seat| seat.now.is_none())
    }

    /// The only lane that can be meant where none is named.
    pub(super) fn only_lane(&self) -> Option<usize> {
        let mut taken = (0..self.seats.len()).filter(|&lane| self.seats[lane].now.is_some());
        match (self.seats.len(), taken.next(), taken.next()) {
            (1, ..) => Some(0),
            (_, Some(lane), None) => Some(lane),
            _ => None,
        }
    }

    /// Who stood in a queue and has no take that counts.
    pub(super) fn unplayed(&self, plan: &Plan) -> Vec<usize> {
        let queued = plan.queues.iter().flatten().copied();
        queued.filter(|&player| self.takes.get(player) == Some(&0)).collect()
    }

    fn queue(&self, plays: Plays) -> Option<&VecDeque<Waiting>> {
        match plays {
            Plays::Queue(queue) => self.queues.get(queue),
            Plays::Always(_) => None,
        }
    }

    fn queue_of(&mut self, lane: usize) -> Option<&mut VecDeque<Waiting>> {
        match self.seats.get(lane)?.plays {
            Plays::Queue(queue) => self.queues.get_mut(queue),
            Plays::Always(_) => None,
        }
    }

    /// Seats the next of the queues where a seat is free.
    pub(super) fn fill(&mut self) {
        for lane in 0..self.seats.len() {
            if self.seats[lane].now.is_none()
                && let Some(next) = self.queue_of(lane).and_then(VecDeque::pop_front)
            {
                self.seats[lane].now = Some(next);
            }
        }
    }

    /// Puts a player on a seat; who sat there is the next. Where somebody plays, the player is the next.
    fn seat(&mut self, lane: usize, waiting: Waiting, playing: &[usize]) {
        let Some(seat) = self.seats.get_mut(lane) else { return };
        let next = if playing.contains(&lane) { Some(waiting) } else { seat.now.replace(waiting) };
        if let Some(next) = next
            && let Some(queue) = self.queue_of(lane)
        {
            queue.push_front(next);
        }
    }

    /// A take of all who have a seat begins: their retakes can no longer be taken back. Returns what was thrown away before,
    /// to be gone for good.
    pub(super) fn begun(&mut self) -> Vec<Arc<Outcome>> {
        let mut gone = Vec::new();
        let Turns { done, seats, .. } = self;
        let begins = |player| seats.iter().any(|seat| seat.now.is_some_and(|now| now.player == player));
        done.retain_mut(|done| match done {
            Done::Thrown(outcomes) => {
                gone.append(outcomes);
                false
            }
            Done::Retake { player } => !begins(*player),
            Done::Absent { .. } | Done::Skipped { .. } => true,
        });
        gone
    }

    /// A take is over. Where nobody played, a player of a queue keeps the turn.
    pub(super) fn played(&mut self, turn: Turn, anything: bool) {
        let is_queued = self.seats.get(turn.lane).is_none_or(|seat| matches!(seat.plays, Plays::Queue(_)));
        if anything || !is_queued {
            self.counts(turn);
        }
    }

    /// A take counts: a turn less for its player.
    fn counts(&mut self, Turn { lane, player, .. }: Turn) {
        if let Some(seat) = self.seats.get_mut(lane) {
            seat.last = Some(player);
        }
        self.takes[player] += 1;
        self.one_less(player);
    }

    /// Whether a take that is over counts.
    pub(super) fn has_counted(&self, turn: Turn) -> bool {
        self.takes.get(turn.player).is_some_and(|&takes| takes >= turn.take)
    }

    /// A turn less for a player; after the last one the seat is free. Who was displaced while playing stands in a queue.
    fn one_less(&mut self, player: usize) {
        if let Some(seat) = self.seat_of(player) {
            seat.now = seat.now.and_then(Waiting::one_less);
            return;
        }
        for queue in &mut self.queues {
            if let Some(place) = queue.iter().position(|waiting| waiting.player == player)
                && let Some(waiting) = queue.remove(place)
                && let Some(waiting) = waiting.one_less()
            {
                queue.insert(place, waiting);
            }
        }
    }

    fn seat_of(&mut self, player: usize) -> Option<&mut Seat> {
        self.seats.iter_mut().find(|seat| seat.now.is_some_and(|now| now.player == player))
    }

    /// Takes are thrown away. `counted`: they had counted, and are to be played again; else they were being played.
    pub(super) fn thrown(&mut self, outcomes: Vec<Arc<Outcome>>, counted: bool) {
        for Turn { lane, player, .. } in outcomes.iter().map(|outcome| outcome.turn).filter(|_| counted) {
            self.takes[player] = self.takes[player].saturating_sub(1);
            self.more(lane, Waiting { player, left: 1 }, &[]);
        }
        self.done.push(Done::Thrown(outcomes));
    }

    /// So many turns more for a player, now.
    fn more(&mut self, lane: usize, Waiting { player, left: more }: Waiting, playing: &[usize]) {
        if let Some(now) = self.seat_of(player).and_then(|seat| seat.now.as_mut()) {
            now.left = now.left.saturating_add(more);
        } else {
            // A player who was skipped since may stand in the queue.
            let left = self.leave_queues(player).map_or(0, |waiting| waiting.left);
            self.seat(lane, Waiting { player, left: left.saturating_add(more) }, playing);
        }
    }

    /// Takes a player out of whatever queue.
    fn leave_queues(&mut self, player: usize) -> Option<Waiting> {
        self.queues.iter_mut().find_map(|queue| {
            let place = queue.iter().position(|waiting| waiting.player == player)?;
            queue.remove(place)
        })
    }

    /// The same player once more: `playing`, else the one who played last on the lane.
    pub(super) fn retake(&mut self, lane: usize, playing: Option<usize>) -> Result<Step, Refused> {
        let last = self.seats.get(lane).and_then(|seat| seat.last);
        let player = playing.or(last).ok_or("nobody has played here yet who could play again")?;
        self.more(lane, Waiting { player, left: 1 }, &[]);
        self.done.push(Done::Retake { player });
        Ok(Step::Retake(player))
    }

    /// The player on a lane is not here today.
    pub(super) fn absent(&mut self, lane: usize) -> Result<Step, Refused> {
        let seat = self.seats.get_mut(lane).and_then(|seat| seat.now.take());
        let waiting = seat.ok_or("nobody's turn is next here")?;
        self.done.push(Done::Absent { lane, waiting });
        self.fill();
        Ok(Step::Absent(waiting.player))
    }

    /// The player on a lane comes later: to the end of the queue.
    pub(super) fn skip(&mut self, lane: usize) -> Result<Step, Refused> {
        if self.queue_of(lane).is_none_or(|queue| queue.is_empty()) {
            return Err("nobody else waits for this controller".into());
        }
        let seat = self.seats.get_mut(lane).and_then(|seat| seat.now.take());
        let waiting = seat.ok_or("nobody's turn is next here")?;
        if let Some(queue) = self.queue_of(lane) {
            queue.push_back(waiting);
        }
        self.done.push(Done::Skipped { lane, waiting });
        self.fill();
        Ok(Step::Skipped(waiting.player))
    }

    /// Takes the last step back; `playing`: on which lanes a take is being played. `None`: there is none.
    pub(super) fn undo(&mut self, playing: &[usize]) -> Option<Undone> {
        Some(match self.done.pop()? {
            Done::Absent { lane, waiting } => {
                // Who is back already, to play again what was thrown away, has these turns beside that one.
                self.more(lane, waiting, playing);
                Undone::Step(Step::Absent(waiting.player))
            }
            Done::Skipped { lane, waiting: Waiting { player, .. } } => {
                // Gone from the queue: the turn has come by itself meanwhile.
                if let Some(waiting) = self.leave_queues(player) {
                    self.seat(lane, waiting, playing);
                }
                Undone::Step(Step::Skipped(player))
            }
            Done::Retake { player } => {
                self.one_less(player);
                self.fill();
                Undone::Step(Step::Retake(player))
            }
            Done::Thrown(outcomes) => {
                outcomes.iter().for_each(|outcome| self.counts(outcome.turn));
                self.fill();
                Undone::Back(outcomes)
            }
        })
    }
}

#[cfg(test)]
mod tests;
