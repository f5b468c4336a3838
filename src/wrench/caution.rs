//! What can hurt at a job, from the rules that are shown beside jobs.

use crate::schema::Rule;

/// A caution of the list.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct Caution {
    /// The rule it is from.
    pub rule: String,
    /// What it says.
    pub text: String,
}

/// The rules shown beside a job that turns `key` at `place` on a car of these chassis kinds; those shown after it apart.
pub(super) fn beside<'r>(
    rules: &'r [Rule],
    chassis: &[String],
    key: &str,
    place: Option<&str>,
) -> Vec<(&'r Rule, bool)> {
    let for_car =
        |r: &&Rule| r.chassis.is_empty() || chassis.is_empty() || r.chassis.iter().any(|c| chassis.contains(c));
    // A sentence with a figure in it is a matter of the check: a list computes nothing.
    let whole = |r: &&Rule| !told(r).text.contains(['{', '}']);
    let meets = |r: &'r Rule| r.job.as_ref().filter(|j| j.meets(key, place)).map(|j| (r, j.after));
    rules.iter().filter(for_car).filter(whole).filter_map(meets).collect()
}

/// As the list says it.
pub(super) fn told(rule: &Rule) -> Caution {
    let text = rule.job.as_ref().and_then(|j| j.says.as_ref()).unwrap_or(&rule.says);
    Caution { rule: rule.id.clone(), text: text.clone() }
}

#[cfg(test)]
mod tests {
    use crate::schema::rules;

    #[test]
    fn what_stands_beside_a_job_is_whole_as_it_is() {
        let jobs: Vec<_> = rules().iter().filter(|r| r.job.is_some()).collect();
        assert!(jobs.len() >= 10);
        for rule in jobs {
            let said = super::told(rule).text;
            assert!(!said.contains(['{', '}']), "{}: a list computes nothing: {said}", rule.id);
            let lower = said.to_lowercase();
            assert!(!lower.contains("safe") && !lower.contains("legal"), "{}: {said}", rule.id);
        }
    }
}
