//! What is due, with deferrals beside it: asked by both `due` and `plan`, so that they say the same.

use super::deferrals;
use crate::due::deferral::put_off;
use crate::due::{self, Answer, Question};
use crate::ship::settings::Part;
use crate::store::Facts;

/// Which futures are drawn. Any number does; the same number gives the same dates every time.
const SEED: u64 = 1;

/// An answer for each question.
pub(in super::super) fn answers(questions: &[(&Part, Question)], kept: &Facts, as_of_ms: i64) -> Vec<Answer> {
    questions.iter().map(|(part, question)| answer(part, question, kept, as_of_ms)).collect()
}

fn answer(part: &Part, question: &Question, kept: &Facts, as_of_ms: i64) -> Answer {
    let mut answer = due::answer(question, as_of_ms, SEED);
    let fitted_ms = question.fitting.as_ref().map(|fitted| fitted.at.best_ms());
    if let Some(deferral) = deferrals::last(&kept.deferrals, &part.radar, &part.name, fitted_ms) {
        // Its hours stand in the place of all limits, those in months and starts included.
        let at_new_hours = deferral.until_h.map(|until_h| {
            let limits = (Some(until_h), None, None);
            let (limit_h, limit_months, limit_starts) = limits;
            let question = Question { limit_h, limit_months, limit_starts, ..question.clone() };
            due::answer(&question, as_of_ms, SEED).forecast.percentiles_ms
        });
        put_off(&mut answer, deferral, at_new_hours.as_deref(), as_of_ms);
    }
    answer
}
