//! Failure rates by the arithmetic of MIL-HDBK-217F, sections 7.3 (magnetrons) and 12.1 (motors).
//!
//! **A secondary figure, never a due date.** For a ship's tubes it gives lives four to twenty-seven times shorter than those
//! reached in practice: its data are decades old and its environment factors were made for warships. It is here
//! because an office may ask for it, and nothing else in the program takes it as an input.
//!
//! The formulas and factors were checked against second-hand copies and from memory, not against the handbook itself.

use super::why::{Why, within};

/// Where the equipment is used: the handbook's environments.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Environment {
    /// GB.
    GroundBenign,
    /// GF.
    GroundFixed,
    /// GM.
    GroundMobile,
    /// NS: aboard, sheltered.
    NavalSheltered,
    /// NU: aboard, in the open.
    NavalUnsheltered,
    /// AIC.
    AirborneInhabitedCargo,
    /// AIF.
    AirborneInhabitedFighter,
    /// AUC.
    AirborneUninhabitedCargo,
    /// AUF.
    AirborneUninhabitedFighter,
    /// ARW.
    AirborneRotaryWing,
    /// SF.
    SpaceFlight,
    /// MF.
    MissileFlight,
    /// ML.
    MissileLaunch,
    /// CL.
    CannonLaunch,
}

impl Environment {
    /// The factor for magnetrons.
    #[must_use]
    pub const fn magnetron_factor(self) -> f64 {
        match self {
            Environment::GroundBenign => 1.0,
            Environment::GroundFixed => 2.0,
            Environment::GroundMobile => 4.0,
            Environment::NavalSheltered => 15.0,
            Environment::NavalUnsheltered => 47.0,
            Environment::AirborneInhabitedCargo => 10.0,
            Environment::AirborneInhabitedFighter => 16.0,
            Environment::AirborneUninhabitedCargo => 12.0,
            Environment::AirborneUninhabitedFighter => 23.0,
            Environment::AirborneRotaryWing => 80.0,
            Environment::SpaceFlight => 0.50,
            Environment::MissileFlight => 43.0,
            Environment::MissileLaunch => 133.0,
            Environment::CannonLaunch => 2_000.0,
        }
    }
}

/// How a magnetron is built and run.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Magnetron {
    /// Under 5 kW, without pulses.
    ContinuousWave,
    /// Pulsed, coaxial.
    Coaxial {
        /// Its frequency.
        frequency_ghz: f64,
        /// Its peak power.
        peak_mw: f64,
    },
    /// Pulsed, of the conventional kind.
    Conventional {
        /// Its frequency.
        frequency_ghz: f64,
        /// Its peak power.
        peak_mw: f64,
    },
}

impl Magnetron {
    /// The base rate, in failures per million filament hours.
    ///
    /// # Errors
    /// A frequency or a power that the formula was not made for.
    pub fn base_per_1e6_h(&self) -> Result<f64, Why> {
        match *self {
            Magnetron::ContinuousWave => Ok(18.0),
            Magnetron::Coaxial { frequency_ghz, peak_mw }
            | Magnetron::Conventional { frequency_ghz, peak_mw } => {
                let frequency_ghz = within("the frequency in GHz", frequency_ghz, 0.1, 100.0)?;
                let peak_mw = within("the peak power in MW", peak_mw, 0.01, 5.0)?;
                Ok(19.0 * frequency_ghz.powf(0.73) * peak_mw.powf(0.20))
            }
        }
    }

    /// The factor of construction.
    #[must_use]
    pub const fn construction_factor(&self) -> f64 {
        match self {
            Magnetron::ContinuousWave | Magnetron::Coaxial { .. } => 1.0,
            Magnetron::Conventional { .. } => 5.4,
        }
    }

    /// Failures per million filament hours. `radiate_share`: hours radiating, for each hour that the filament was hot.
    ///
    /// # Errors
    /// A figure that the formula was not made for.
    pub fn failures_per_1e6_h(&self, radiate_share: f64, environment: Environment) -> Result<f64, Why> {
        Ok(self.base_per_1e6_h()?
            * utilization_factor(radiate_share)?
            * self.construction_factor()
            * environment.magnetron_factor())
    }
}

/// The factor of use: 1 for a magnetron that radiates whenever its filament is hot.
///
/// # Errors
/// Not a share.
pub fn utilization_factor(radiate_share: f64) -> Result<f64, Why> {
    Ok(0.44 + 0.56 * within("the radiating share of filament hours", radiate_share, 0.0, 1.0)?)
}

/// The characteristic lives (Weibull scales) of a motor at an ambient temperature.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Motor {
    /// Of its bearings.
    pub bearing_h: f64,
    /// Of its winding.
    pub winding_h: f64,
}

impl Motor {
    /// At this ambient temperature.
    ///
    /// # Errors
    /// A temperature that the formula was not made for.
    pub fn at(ambient_c: f64) -> Result<Motor, Why> {
        let ambient_k = within("the ambient temperature in degrees C", ambient_c, 0.0, 140.0)? + 273.0;
        let hot = 10.0_f64.powf(2.534 - 2_357.0 / ambient_k);
        let cold = 1.0 / (10.0_f64.powf(20.0 - 4_500.0 / ambient_k) + 300.0);
        Ok(Motor { bearing_h: 1.0 / (hot + cold), winding_h: 10.0_f64.powf(2_357.0 / ambient_k - 1.83) })
    }

    /// Failures per million hours over this many hours from new, by the handbook's first issue (a later notice replaced it).
    ///
    /// # Errors
    /// The hours are not positive.
    pub fn failures_per_1e6_h(&self, from_new_h: f64) -> Result<f64, Why> {
        let from_new_h = super::why::positive("the hours from new", from_new_h)?;
        Ok((from_new_h.powi(2) / self.bearing_h.powi(3) + 1.0 / self.winding_h) * 1e6)
    }
}

#[cfg(test)]
#[path = "handbook_tests.rs"]
mod tests;
