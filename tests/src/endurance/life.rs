//! What happens at the inputs of a ship's logger, session by session, made up from a seed.

/// Milliseconds in a day.
pub const DAY_MS: u64 = 86_400_000;

/// How long after power-up nothing moves, so that the start's own words can be told.
const QUIET_MS: u64 = 3_000;

/// Edges of a [`Duty::Ship`] lie at least this far apart: no two within a tenth, each proven before the next.
const APART_MS: u64 = 250;

/// What a ship does to its logger.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Duty {
    /// Lines go on and off now and then.
    Ship {
        /// How many edges a day fall on each line; a line with 0 is always on.
        edges: [u32; 8],
        /// Sessions a day, each ended by power going.
        boots: u32,
    },
    /// One line closes ten times a second for 61 ms each; two boots a day.
    Chatter {
        /// Which.
        line: usize,
        /// The lines that are on all the time.
        others_on: u8,
    },
    /// Power comes and goes without end.
    Boots {
        /// From one power-up to the next.
        every_ms: u64,
        /// How much of that it is away.
        dark_ms: u64,
        /// The lines that are on whenever there is power.
        on: u8,
    },
}

/// A line changes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Edge {
    /// Milliseconds since power came.
    pub at_ms: u64,
    /// Which line.
    pub line: usize,
    /// It goes on.
    pub on: bool,
}

/// From power-up to power gone.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Session {
    /// The lines on at power-up.
    pub found_on: u8,
    /// In order of time.
    pub edges: Vec<Edge>,
    /// The host pulls at this time.
    pub pull_ms: Option<u64>,
    /// Power goes at this time.
    pub len_ms: u64,
    /// From then to the next power-up.
    pub dark_ms: u64,
}

/// Makes sessions up.
#[derive(Debug)]
pub struct Life {
    duty: Duty,
    random: fastrand::Rng,
    levels: u8,
    /// How long the life has lasted.
    now_ms: u64,
    /// Time between pulls; none if 0.
    pull_every_ms: u64,
    next_pull_ms: u64,
}

impl Life {
    /// A life with this duty, pulled every so many days (0: never).
    #[must_use]
    pub fn new(duty: Duty, pull_every_days: u64, seed: u64) -> Self {
        let levels = match duty {
            Duty::Ship { .. } => 0xFF,
            Duty::Chatter { others_on, .. } => others_on,
            Duty::Boots { on, .. } => on,
        };
        let pull_every_ms = pull_every_days * DAY_MS;
        let random = fastrand::Rng::with_seed(seed);
        Self { duty, random, levels, now_ms: 0, pull_every_ms, next_pull_ms: pull_every_ms }
    }

    /// How long the life has lasted.
    #[must_use]
    pub fn now_ms(&self) -> u64 {
        self.now_ms
    }

    /// What happens from this power-up to the next.
    pub fn session(&mut self) -> Session {
        let found_on = self.levels;
        let (len_ms, dark_ms, edges) = match self.duty {
            Duty::Ship { edges, boots } => {
                let dark_ms = self.random.u64(1_000..60_000);
                let len_ms = DAY_MS / u64::from(boots) - dark_ms;
                (len_ms, dark_ms, self.now_and_then(edges, boots, len_ms))
            }
            Duty::Chatter { line, .. } => {
                let dark_ms = self.random.u64(1_000..60_000);
                let len_ms = DAY_MS / 2 - dark_ms;
                (len_ms, dark_ms, self.chatter(line, len_ms))
            }
            Duty::Boots { every_ms, dark_ms, .. } => (every_ms - dark_ms, dark_ms, Vec::new()),
        };
        for edge in &edges {
            self.levels =
                if edge.on { self.levels | 1 << edge.line } else { self.levels & !(1 << edge.line) };
        }
        let due = self.pull_every_ms > 0 && self.now_ms + len_ms > self.next_pull_ms;
        let pull_ms = due.then(|| self.pull(&edges, len_ms));
        if due {
            self.next_pull_ms += self.pull_every_ms;
        }
        self.now_ms += len_ms + dark_ms;
        Session { found_on, edges, pull_ms, len_ms, dark_ms }
    }

    fn now_and_then(&mut self, per_day: [u32; 8], boots: u32, len_ms: u64) -> Vec<Edge> {
        let all = per_day.iter().sum::<u32>();
        let mut times: Vec<u64> =
            (0..all / boots).map(|_| self.random.u64(QUIET_MS..len_ms - 10_000)).collect();
        times.sort_unstable();
        let mut levels = self.levels;
        let mut at_ms = 0;
        let edge = |time: u64| {
            at_ms = time.max(at_ms + APART_MS);
            let mut lot = self.random.u32(0..all);
            let line = per_day.iter().position(|share| match lot.checked_sub(*share) {
                Some(rest) => {
                    lot = rest;
                    false
                }
                None => true,
            });
            let line = line.expect("the lot is below the sum");
            levels ^= 1 << line;
            Edge { at_ms, line, on: levels >> line & 1 == 1 }
        };
        times.into_iter().map(edge).collect()
    }

    fn chatter(&mut self, line: usize, len_ms: u64) -> Vec<Edge> {
        // Not in step with the tenths.
        let phase_ms = self.random.u64(0..100);
        let closings = (len_ms - QUIET_MS - 10_000) / 100;
        let close = |at: u64| {
            let at_ms = QUIET_MS + phase_ms + at * 100;
            [Edge { at_ms, line, on: true }, Edge { at_ms: at_ms + 61, line, on: false }]
        };
        (0..closings).flat_map(close).collect()
    }

    /// Some time of the session at which no edge is in doubt.
    fn pull(&mut self, edges: &[Edge], len_ms: u64) -> u64 {
        let wanted_ms = self.random.u64(len_ms / 4..len_ms - 10_000);
        let before = edges.iter().rev().find(|edge| edge.at_ms <= wanted_ms);
        before.map_or(wanted_ms, |edge| wanted_ms.max(edge.at_ms + 70))
    }
}
