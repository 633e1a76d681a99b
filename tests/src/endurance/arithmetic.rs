//! What a session adds to the totals, by interval arithmetic on its script: no counter, no code of the firmware.
//!
//! Time is cut into tenths of a second. A line counts from the tenth at or after its on-edge to the tenth at or before its
//! off-edge, and everything counts up to the last tenth that was committed before power went. That tenth follows
//! from the rules alone: a commit at 2 s, at every edge, at every pull, one heartbeat after the last commit
//! while anything was on or has just changed, and ten minutes after it otherwise.

use super::life::{Edge, Session};

/// The supply must have been good for so long.
const GOOD_MS: u64 = 2_000;

/// Sums over a life.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Sums {
    /// Tenths of power that must have been counted.
    pub uptime_tenths: u64,
    /// The same for each line's on-time.
    pub on_tenths: [u64; 8],
    /// Starts of each line that must have been counted.
    pub starts: [u32; 8],
    /// How long each line was really on while there was power.
    pub true_ms: [u64; 8],
    /// How often each line really went on or was found on.
    pub true_starts: [u32; 8],
    /// How long there really was power.
    pub powered_ms: u64,
    /// Sessions that were long enough to write anything.
    pub sessions: u32,
}

impl Sums {
    /// Adds a session that power ended. `heartbeat_s` and `idle_s` are the configuration's.
    pub fn add(&mut self, session: &Session, heartbeat_s: u16, idle_s: u16) {
        self.powered_ms += session.len_ms;
        let said = said(session, u64::from(heartbeat_s) * 10, u64::from(idle_s) * 10);
        self.sessions += u32::from(session.len_ms >= GOOD_MS);
        self.uptime_tenths += said;
        let mut since_ms: [Option<u64>; 8] =
            std::array::from_fn(|line| bit(session.found_on, line).then_some(0));
        for edge in &session.edges {
            if edge.on {
                since_ms[edge.line] = Some(edge.at_ms);
            } else if let Some(from_ms) = since_ms[edge.line].take() {
                self.interval(edge.line, from_ms, edge.at_ms, said);
            }
        }
        for (line, since_ms) in since_ms.into_iter().enumerate() {
            if let Some(from_ms) = since_ms {
                self.interval(line, from_ms, session.len_ms, said);
            }
        }
    }

    fn interval(&mut self, line: usize, from_ms: u64, to_ms: u64, said: u64) {
        self.true_ms[line] += to_ms - from_ms;
        self.true_starts[line] += 1;
        let (from, to) = (from_ms.div_ceil(100), (to_ms / 100).min(said));
        self.on_tenths[line] += to.saturating_sub(from);
        self.starts[line] += u32::from(from < said);
    }
}

/// Everything before this tenth of the session had been committed when power went.
fn said(session: &Session, heartbeat: u64, idle: u64) -> u64 {
    if session.len_ms < GOOD_MS {
        return 0;
    }
    let mut clock = Clock { said: GOOD_MS / 100, on: session.found_on, changed: false, heartbeat, idle };
    let mut pull_ms = session.pull_ms;
    for edge in &session.edges {
        if let Some(at_ms) = pull_ms.take_if(|at_ms| *at_ms < edge.at_ms) {
            clock.commit_at(at_ms / 100);
        }
        clock.edge(edge);
    }
    if let Some(at_ms) = pull_ms {
        clock.commit_at(at_ms / 100);
    }
    clock.pass(session.len_ms / 100);
    clock.said
}

struct Clock {
    said: u64,
    on: u8,
    changed: bool,
    heartbeat: u64,
    idle: u64,
}

impl Clock {
    /// Commits that come due up to this tenth.
    fn pass(&mut self, until: u64) {
        loop {
            let wait = if self.on != 0 || self.changed { self.heartbeat } else { self.idle };
            if self.said + wait > until {
                break;
            }
            self.said += wait;
            self.changed = false;
        }
    }

    fn commit_at(&mut self, tenth: u64) {
        self.pass(tenth);
        if tenth > self.said {
            self.changed = false;
        }
        self.said = tenth;
    }

    fn edge(&mut self, edge: &Edge) {
        let tenth = if edge.on { edge.at_ms.div_ceil(100) } else { edge.at_ms / 100 };
        self.commit_at(tenth);
        self.changed = true;
        self.on = if edge.on { self.on | 1 << edge.line } else { self.on & !(1 << edge.line) };
    }
}

fn bit(mask: u8, line: usize) -> bool {
    mask >> line & 1 == 1
}

#[cfg(test)]
mod tests {
    use super::*;

    fn session(edges: &[(u64, usize, bool)], found_on: u8, len_ms: u64) -> Session {
        let edges =
            edges.iter().map(|(at_ms, line, on)| Edge { at_ms: *at_ms, line: *line, on: *on }).collect();
        Session { found_on, edges, pull_ms: None, len_ms, dark_ms: 0 }
    }

    /// Worked out on paper.
    #[test]
    fn sessions_by_hand() {
        let mut sums = Sums::default();
        // Commits at 2.0, 12.0, then the edges at 15.1 and 17.9 (17.95 rounded down), 27.9 while it has just changed; 37.9 comes too late.
        sums.add(&session(&[(15_040, 1, true), (17_950, 1, false)], 1, 30_000), 10, 600);
        assert_eq!((sums.uptime_tenths, sums.sessions), (279, 1));
        assert_eq!((sums.on_tenths[0], sums.on_tenths[1]), (279, 28));
        assert_eq!((sums.starts[0], sums.starts[1], sums.true_ms[1]), (1, 1, 2_910));
        // Nothing is on: 2.0, and the next would be at 602.
        sums.add(&session(&[], 0, 600_000), 10, 600);
        assert_eq!((sums.uptime_tenths, sums.powered_ms), (299, 630_000));
        // Gone before the supply has proved good.
        sums.add(&session(&[], 0xFF, 1_900), 10, 600);
        assert_eq!((sums.uptime_tenths, sums.sessions, sums.true_starts[7]), (299, 2, 1));
    }
}
