//! What is wired where: ship.toml says it and the logger's own configuration says it. Neither is preferred.

use crate::timeline::Timeline;
use halfglass_protocol::config::Role;

/// A disagreement about one role.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Disagreement {
    /// The role in question.
    pub(crate) role: Role,
    /// Both sides, in a sentence.
    pub(crate) sentence: String,
}

/// Compares a radar's lines with every configuration in force at or after the record `from_index` and before
/// `to_index`. `Err`: the history holds no configuration.
///
/// # Errors
/// A sentence that says so.
pub(crate) fn disagreements(
    line: &Timeline,
    lines: &[(Role, u8)],
    from_index: u32,
    to_index: u32,
) -> Result<Vec<Disagreement>, String> {
    if line.configs.is_empty() {
        return Err(
            "the logger's own configuration is not in the log, so ship.toml's wiring stands unchecked"
                .to_owned(),
        );
    }
    let first = line.configs.iter().rposition(|(index, _)| *index <= from_index).unwrap_or(0);
    let seen = line.configs.iter().skip(first).take_while(|(index, _)| *index < to_index.max(1));
    let mut found: Vec<Disagreement> = Vec::new();
    let mut add = |role: Role, sentence: String| {
        let disagreement = Disagreement { role, sentence };
        if !found.contains(&disagreement) {
            found.push(disagreement);
        }
    };
    for (_, config) in seen {
        let mut radar = None;
        for (role, input) in lines {
            let Some(wired) = config.lines.get(usize::from(*input)) else { continue };
            if wired.role != *role {
                add(
                    *role,
                    format!(
                        "ship.toml has {} on input {input}, but the logger is configured for {} there",
                        role.name(),
                        wired.role.name()
                    ),
                );
            } else if *radar.get_or_insert(wired.radar) != wired.radar {
                add(
                    *role,
                    format!(
                        "ship.toml has {} on input {input} with this radar's other lines, but the logger is \
                         configured to count it for its other radar",
                        role.name()
                    ),
                );
            }
        }
    }
    Ok(found)
}

#[cfg(test)]
mod tests {
    use super::*;
    use halfglass_protocol::config::Config;

    fn with(config: Config) -> Timeline {
        Timeline { configs: vec![(0, config)], ..Timeline::default() }
    }

    #[test]
    fn agreement_and_disagreement() {
        let lines = [(Role::Transmit, 2), (Role::Motor, 3)];
        let good = with(Config::as_in_guide());
        assert_eq!(disagreements(&good, &lines, 0, u32::MAX), Ok(vec![]));
        let swapped = [(Role::Transmit, 3), (Role::Motor, 2)];
        let found = disagreements(&good, &swapped, 0, u32::MAX).unwrap();
        assert_eq!(found.len(), 2);
        assert!(
            found[0].sentence.contains("transmit on input 3") && found[0].sentence.contains("motor there")
        );
        // The motor counted for the other radar.
        let mut config = Config::as_in_guide();
        config.lines[3].radar = 1;
        let found = disagreements(&with(config), &lines, 0, u32::MAX).unwrap();
        assert_eq!((found.len(), found[0].role), (1, Role::Motor));
        assert!(disagreements(&Timeline::default(), &lines, 0, u32::MAX).is_err());
    }

    #[test]
    fn only_configurations_in_force_count() {
        let mut old = Config::as_in_guide();
        old.lines[2].role = Role::Unused;
        let line = Timeline { configs: vec![(0, old), (50, Config::as_in_guide())], ..Timeline::default() };
        let lines = [(Role::Transmit, 2)];
        assert_eq!(disagreements(&line, &lines, 60, u32::MAX).unwrap().len(), 0);
        assert_eq!(disagreements(&line, &lines, 40, u32::MAX).unwrap().len(), 1);
        assert_eq!(disagreements(&line, &lines, 0, 50).unwrap().len(), 1);
    }
}
