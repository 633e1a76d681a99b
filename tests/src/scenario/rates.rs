//! How often what goes wrong: common practice, no source. The prior odds that the engine states are these same numbers;
//! nothing else of the engine is known here.

/// A counter zeroed and no fitting says so: per counter and year.
pub const ZEROED_WITHOUT_FITTING: f64 = 0.10;
/// The box that counts exchanged: per radar and year.
pub const COUNTER_EXCHANGED: f64 = 0.05;
/// The exchanged box shows nought.
pub const EXCHANGED_TO_NOUGHT: f64 = 0.4;
/// Otherwise its figure is anything up to this.
pub const EXCHANGED_HOURS_MAX: f64 = 20_000.0;
/// The supply was off for longer than an hour at an exchange.
pub const EXCHANGED_LONG_OFF: f64 = 0.5;
/// Recorded as zeroed, but it went on: per fitting so recorded.
pub const FITTED_WITHOUT_ZEROING: f64 = 0.06;
/// Recorded as not zeroed, but it was: per fitting so recorded.
pub const RECORD_CONTRADICTED: f64 = 0.05;
/// Zeroed 1 to 7 days from what the record says: per fitting recorded as zeroed.
pub const FITTING_MISDATED: f64 = 0.08;
/// In so many of those the whole work is misdated, its isolation too.
pub const MISDATED_WHOLE: f64 = 0.5;
/// A slip of a digit: per reading.
pub const DIGIT_SLIP: f64 = 0.007;
/// Of the slips: two neighbouring digits change places.
pub const SLIP_SWAPS: f64 = 0.45;
/// Of the slips: one digit is wrong. The rest: a digit is missing, or there twice.
pub const SLIP_WRONG: f64 = 0.45;
/// Off, but by no more than the clock moved: per reading.
pub const OFF_WITHIN_CLOCK: f64 = 0.002;
/// A figure that the clock does not allow, without a reason: per reading.
pub const IMPOSSIBLE: f64 = 0.001;
/// Two quantities of a radar in each other's place: per occasion.
pub const QUANTITIES_SWAPPED: f64 = 0.003;
/// The two radars in each other's place: per occasion.
pub const RADARS_SWAPPED: f64 = 0.003;
/// The display showed the other transceiver, and that was written down: per occasion.
pub const OTHER_SOURCE_WRITTEN: f64 = 0.01;
/// The same, and nobody wrote it down: per occasion.
pub const OTHER_SOURCE_UNWRITTEN: f64 = 0.001;
/// The transmit counter counts another line: per counter.
pub const COUNTS_OTHER_LINE: f64 = 0.02;
/// The counter runs at a steady ratio: per counter.
pub const COUNTER_RATE: f64 = 0.015;
/// Tenths or tens taken for hours from some day on: per counter and year.
pub const COUNTER_UNITS: f64 = 0.004;
/// The logger's line sees nothing for weeks: per line and year.
pub const LINE_DEAD: f64 = 0.03;
/// The logger's line stays on for weeks: per line and year.
pub const LINE_STUCK: f64 = 0.02;
/// The logger's line loses a share for weeks: per line and year.
pub const LINE_INTERMITTENT: f64 = 0.03;
/// Two inputs exchanged at the logger: per radar.
pub const WIRED_WRONG: f64 = 0.01;
/// Work with an isolation over 20 minutes that nobody recorded: per radar and year.
pub const WORK_UNRECORDED: f64 = 0.15;
/// With a zeroing inside.
pub const UNRECORDED_ZEROES: f64 = 0.2;
/// The logger without power while the radar ran, for days: per radar and year.
pub const LOGGER_DARK: f64 = 0.05;
