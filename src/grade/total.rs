//! The rows together: weighted mean of what the steps are worth.

use super::{NoTotal, Outcome, Rubric, Total, Without, percent};

pub(super) fn total(rows: &[Outcome], rubric: &Rubric) -> Total {
    let (mut points, mut weights, mut of) = (0, 0, 0);
    let mut without = Vec::new();
    for (place, (row, outcome)) in rubric.rows.iter().zip(rows).enumerate() {
        let weight = u64::from(row.weight);
        of += weight;
        match outcome.step().and_then(|step| rubric.steps.get(step - 1)) {
            Some(step) => {
                points += weight * u64::from(step.worth);
                weights += weight;
            }
            None => without.push(place),
        }
    }
    if !without.is_empty() && rubric.without_evidence == Without::NoTotal {
        return Total::None(NoTotal::Missing(without));
    }
    if weights == 0 || 100 * weights < u64::from(rubric.least_weight) * of {
        return Total::None(NoTotal::LittleWeight { weights, of });
    }
    let percent = percent(points, 100 * weights, rubric.rounding);
    let name = rubric.called(percent).to_owned();
    Total::Grade { points, weights, percent, name, left_out: without }
}
