//! The geometries under test, by name, and how hard each is tried.

use crate::cuts::{Outcome, Plan, run};

/// One geometry.
pub struct Suite {
    /// Page length, pages, granule.
    pub name: &'static str,
    /// Commits that turn the ring at least three times, and at least 10,000.
    pub commits: usize,
    /// Runs it.
    pub run: fn(&Plan) -> Outcome,
}

/// All of them. The last two are flash with error correction, whose granules are 8 and 16 bytes.
pub const SUITES: [Suite; 6] = [
    Suite { name: "1 KiB x 2", commits: 10_000, run: |plan| run::<4, 1_024>(plan, 2) },
    Suite { name: "1 KiB x 8", commits: 10_000, run: |plan| run::<4, 1_024>(plan, 8) },
    Suite { name: "1 KiB x 64", commits: 46_000, run: |plan| run::<4, 1_024>(plan, 64) },
    Suite { name: "4 KiB x 16", commits: 49_000, run: |plan| run::<4, 4_096>(plan, 16) },
    Suite { name: "1 KiB x 8, granule 8", commits: 10_000, run: |plan| run::<8, 1_024>(plan, 8) },
    Suite { name: "2 KiB x 8, granule 16", commits: 10_000, run: |plan| run::<16, 2_048>(plan, 8) },
];

/// How hard to try.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Effort {
    /// For every run of the tests: at least 100,000 cuts over all suites.
    Tests,
    /// At least 1,000,000: some 2,000 commits of each suite, and nearly all operations of their recoveries.
    Full,
    /// Every program and erase of every commit, and one chain of recoveries each.
    Each,
}

impl Suite {
    /// The plan for this suite: with and without flicker by turns of the seed.
    #[must_use]
    pub fn plan(&self, seed: u64, effort: Effort) -> Plan {
        let every = match effort {
            Effort::Tests => self.commits / 330,
            Effort::Full => self.commits / 2_000,
            Effort::Each => 1,
        };
        Plan {
            suite: self.name,
            flag: match effort {
                Effort::Tests => "",
                Effort::Full => "--full ",
                Effort::Each => "--each ",
            },
            seed,
            commits: self.commits,
            every: every.max(1),
            recoveries: match effort {
                Effort::Tests => 4,
                Effort::Full => 40,
                Effort::Each => 1,
            },
            first_only: false,
            session_commits: 60,
            depth: 3,
            flicker: !seed.is_multiple_of(3),
            only: None,
        }
    }
}
