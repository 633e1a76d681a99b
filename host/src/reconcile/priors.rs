//! How often things go wrong, before any figure is looked at. All of it is common practice, no source: an officer's
//! guess, written down so that it can be argued with. `docs/reconcile.md` shows what each is good for.

/// Chance that a counter is zeroed without a fitting, per counter and year.
pub(super) const ZEROED_PER_YEAR: f64 = 0.10;
/// Chance that the box that counts is exchanged, per radar and year.
pub(super) const EXCHANGED_PER_YEAR: f64 = 0.05;
/// Of exchanged boxes, how many begin at zero; the others show any figure up to [`COUNTER_MAX_H`].
pub(super) const EXCHANGED_TO_ZERO: f64 = 0.4;
/// A used box shows at most so many hours.
pub(super) const COUNTER_MAX_H: f64 = 20_000.0;
/// The chance of an exchange where the log shows neither supply off nor dark time is lower by this factor.
pub(super) const EXCHANGED_UNDER_POWER: f64 = 1e-3;

/// Of fittings recorded with zeroing, how many were not zeroed at all.
pub(super) const NOT_ZEROED: f64 = 0.06;
/// Of fittings recorded with zeroing, how many were zeroed on another day.
pub(super) const MISDATED: f64 = 0.08;
/// Of fittings recorded without zeroing, how many were zeroed.
pub(super) const CONTRADICTED: f64 = 0.05;
/// How far from its recorded day a zeroing is looked for, in days.
pub(super) const MISDATED_DAYS: f64 = 7.0;

/// Of readings, how many have a slip of a digit.
pub(super) const SLIP: f64 = 0.007;
/// Of readings, how many are off within what the clock allows, without a slip.
pub(super) const OFF_WITHIN_CLOCK: f64 = 0.002;
/// Of readings, how many are any figure at all.
pub(super) const IMPOSSIBLE: f64 = 0.001;
/// Such a figure lies anywhere below this.
pub(super) const IMPOSSIBLE_MAX_H: f64 = 100_000.0;
/// Of readings, how many have their time noted so wrong that the figure does not fit it, though nothing is wrong with it.
pub(super) const MISNOTED: f64 = 0.005;
/// By how much, in hours.
pub(super) const MISNOTED_H: f64 = 0.3;
/// Of readings, how many show the other radar's transceiver without saying so.
pub(super) const OTHER_SOURCE: f64 = 0.001;
/// Of occasions, in how many two counters of one radar, or of two radars, stand in each other's place.
pub(super) const SWAPPED: f64 = 0.003;

/// Of counters, how many follow another line.
pub(super) const OTHER_LINE: f64 = 0.02;
/// Of counters, how many run at a steady ratio.
pub(super) const RATE: f64 = 0.015;
/// How far such a ratio lies from one at most.
pub(super) const RATIO_MAX: f64 = 1.25;
/// Of exchanged boxes, how many go on by the law of the old one: it lay with the set or with the logger.
pub(super) const LAW_KEPT: f64 = 0.5;
/// Of counters, in how many tens or tenths begin to be taken for hours, per year.
pub(super) const UNITS_PER_YEAR: f64 = 0.004;
/// How likely that mistake ends before the next reading.
pub(super) const UNITS_END: f64 = 0.02;

/// Lines that begin to see too little (dead or intermittent), per line and year.
pub(super) const UNDER_PER_YEAR: f64 = 0.06;
/// For how long, in years, on average.
pub(super) const UNDER_YEARS: f64 = 0.1;
/// Lines that begin to stick, per line and year.
pub(super) const OVER_PER_YEAR: f64 = 0.02;
/// For how long, in years, on average.
pub(super) const OVER_YEARS: f64 = 0.07;
/// The chance of a line's fault in a stretch in which lines contradict each other.
pub(super) const FAULT_WHEN_BREACHED: f64 = 0.3;

/// Where a logger hangs on the radar's own supply: how often it is dark while the radar runs, per radar and year.
pub(super) const RAN_IN_DARK_PER_YEAR: f64 = 0.05;

/// How far a written time is off, in hours: the scale of a logistic distribution.
pub(super) const TIME_SCALE_H: f64 = 0.1;
/// Times are noted to the quarter or half hour: this much, in hours, costs nothing.
pub(super) const TIME_FREE_H: f64 = 0.1;

/// Milliseconds in a year.
pub(super) const MS_PER_YEAR: f64 = 365.25 * 86_400_000.0;
