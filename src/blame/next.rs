//! Which single experiment now would tell the most: each thing that can be put back by itself, and what knowing about it is
//! worth.
//!
//! Worth is the expected value of sample information (H. Raiffa and R. Schlaifer, Applied Statistical Decision Theory, 1961;
//! reference from memory): what is gained on average by choosing after the experiment, less what choosing now gains. A
//! choice gains what it makes the car quicker, less what matters, for that much is not worth a job. All of it is computed
//! from the draws of the blame model, the experiment as in [`super::More`].

use super::Sheets;
use super::estimates::Estimates;
use super::more::{More, SETTLED};
use crate::diff::{diff, words};
use crate::schema::{Role, Schema, Sheet};
use crate::stats::Random;
use std::collections::BTreeSet;

/// Runs on each of the two sheets of the experiment: there and back, once.
pub const RUNS_A_SIDE: usize = 2;

/// Trials of an experiment, and draws each is weighed over.
const REPEATS: usize = 200;
const THINNED: usize = 400;
const SEED: u64 = 0x7e57_0e47;

/// Something that can be put back by itself.
#[derive(Debug, Clone, PartialEq)]
pub struct Toggle {
    /// Keys of what goes back, together one job.
    pub keys: Vec<String>,
    /// Index of the version it was last so on.
    pub back_to: usize,
    /// The sheet on the car with it back.
    pub sheet: Sheet,
    /// What happens, in words.
    pub words: Vec<String>,
    /// What always changed together with it and would stay, in words; empty where these runs tell it alone.
    pub parted_from: Vec<String>,
    /// What it may do: the thing itself, and what stays of what it always changed with.
    draws: Vec<[Vec<f64>; 2]>,
}

/// What an experiment is worth.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Worth {
    /// What choosing after it gains on average beyond choosing now; in the response's unit.
    pub gain: f64,
    /// What choosing now gains: putting it back, if that is believed to be worth more than what matters.
    pub now: f64,
    /// The chance that it is settled after it, one way or the other.
    pub settles: f64,
}

/// A column of the model that differs between two setups.
struct Touched {
    column: usize,
    times: f64,
    /// The jobs in it: any of them may be the one that does it.
    members: Vec<usize>,
    /// The first column that always changed when this one did: these runs cannot part the two.
    together: usize,
}

/// Fields that are one job and cannot be set apart: a part with what describes it, a hole and the height it gives, a thing
/// and what only applies with it.
fn units(schema: &Schema, differ: &BTreeSet<String>) -> Vec<BTreeSet<String>> {
    let mut units: Vec<BTreeSet<String>> = differ.iter().map(|k| BTreeSet::from([k.clone()])).collect();
    let mut join = |a: &str, b: &str| {
        let at = |key: &str| units.iter().position(|u| u.contains(key));
        if let (Some(i), Some(j)) = (at(a), at(b))
            && i != j
        {
            let gone = units.remove(i.max(j));
            units[i.min(j)].extend(gone);
        }
    };
    for key in differ {
        let Some(field) = schema.field(key) else { continue };
        field.part.iter().chain(&field.follows).for_each(|with| join(key, with));
        field.applies.keys().for_each(|with| join(key, with));
    }
    units
}

/// What can be put back, one thing at a time, to a value it had in a version with runs that count; and halves of what
/// always changed together. Nothing where the setup on the car has no run: its own runs come first.
pub fn toggles(schema: &Schema, sheets: &Sheets, estimates: &Estimates) -> Vec<Toggle> {
    let versions = &estimates.timeline.versions;
    let Some(now) = versions.len().checked_sub(1) else { return Vec::new() };
    let (Some(fit), Some(on_car)) = (&estimates.kept.fit, sheets.get(versions[now].sheet_id())) else {
        return Vec::new();
    };
    if estimates.on_setup(now).next().is_none() {
        return Vec::new();
    }
    let ran: BTreeSet<usize> = estimates.used().iter().map(|r| estimates.runs[*r].version).collect();
    let is_set = |key: &str| schema.field(key).is_some_and(|f| f.role == Role::Set);
    let mut out: Vec<Toggle> = Vec::new();
    for version in ran.iter().rev().copied().filter(|v| estimates.setup(*v) != estimates.setup(now)) {
        let Some(then) = sheets.get(versions[version].sheet_id()) else { continue };
        let differ: BTreeSet<String> = then
            .iter()
            .chain(on_car.iter())
            .map(|(key, _)| key)
            .filter(|key| then.get(key) != on_car.get(key))
            .filter(|key| schema.field(key).is_some_and(|f| matches!(f.role, Role::Set | Role::Described)))
            .map(str::to_owned)
            .collect();
        let mut units = units(schema, &differ);
        // What only describes is no job of its own.
        units.retain(|u| u.iter().any(|k| is_set(k)));
        let step = fit.step(estimates.setup(now), estimates.setup(version));
        // A column that is another one turned round changed with it all the same.
        let like = |k: usize, step: &[(usize, f64)]| -> usize {
            let p = fit.columns.len();
            let same = |j: usize| {
                let at = |s: usize, of: usize| i32::from(fit.z[s * p + of]);
                [1, -1].into_iter().any(|sign| {
                    ran.iter().all(|v| {
                        let s = estimates.setup(*v);
                        at(s, k) == sign * at(s, j)
                    })
                })
            };
            step.iter().map(|(j, _)| *j).find(|j| same(*j)).unwrap_or(k)
        };
        let members = |k: usize| -> Vec<usize> {
            let of = |u: &BTreeSet<String>| fit.columns[k].keys.iter().any(|key| u.contains(key));
            (0..units.len()).filter(|i| of(&units[*i])).collect()
        };
        let columns: Vec<Touched> = step
            .iter()
            .map(|(k, times)| Touched { column: *k, times: *times, members: members(*k), together: like(*k, &step) })
            .collect();
        let mut wanted: Vec<Vec<usize>> = (0..units.len()).map(|u| vec![u]).collect();
        // Of four things and more that always changed together, half at a time.
        for at in &columns {
            let all: BTreeSet<usize> =
                columns.iter().filter(|c| c.together == at.together).flat_map(|c| &c.members).copied().collect();
            let half: Vec<usize> = all.iter().copied().take(all.len().div_ceil(2)).collect();
            if all.len() >= 4 && !wanted.contains(&half) {
                wanted.push(half);
            }
        }
        for tested in wanted {
            let keys: BTreeSet<&String> = tested.iter().flat_map(|u| &units[*u]).collect();
            let mut sheet = on_car.clone();
            for key in &keys {
                match then.get(key) {
                    Some(value) => sheet.set(key, value.clone()),
                    None => drop(sheet.remove(key)),
                }
            }
            // The latest version with it is the one to go back to.
            if out.iter().any(|t| t.sheet == sheet) {
                continue;
            }
            let of_tested = |c: &&Touched| c.members.iter().any(|u| tested.contains(u));
            let groups: BTreeSet<usize> = columns.iter().filter(of_tested).map(|c| c.together).collect();
            let touched: Vec<&Touched> = columns.iter().filter(|c| groups.contains(&c.together)).collect();
            if touched.is_empty() {
                continue;
            }
            let with: BTreeSet<usize> =
                touched.iter().flat_map(|c| &c.members).copied().filter(|u| !tested.contains(u)).collect();
            let mut rest = on_car.clone();
            for key in with.iter().flat_map(|u| &units[*u]) {
                match then.get(key) {
                    Some(value) => rest.set(key, value.clone()),
                    None => drop(rest.remove(key)),
                }
            }
            let told = |to: &Sheet| -> Vec<String> {
                let changed = diff(schema, on_car, to);
                words::clauses(schema, on_car, to, &changed).into_iter().map(|c| c.text).collect()
            };
            let draws = estimates
                .beliefs()
                .iter()
                .map(|belief| {
                    let of = |k: usize| -> Vec<f64> { belief.draws.of(k).iter().map(|v| f64::from(*v)).collect() };
                    carried(&touched, &tested, &of)
                })
                .collect();
            out.push(Toggle {
                keys: keys.into_iter().cloned().collect(),
                back_to: version,
                words: told(&sheet),
                parted_from: if with.is_empty() { Vec::new() } else { told(&rest) },
                sheet,
                draws,
            });
        }
    }
    out
}

/// What of the draws of some columns is the doing of what is tested, and what of the rest. Of things that always changed
/// together one does it, and any of them may be the one: most changes do nothing, so two at once are rare.
fn carried(touched: &[&Touched], tested: &[usize], of: &dyn Fn(usize) -> Vec<f64>) -> [Vec<f64>; 2] {
    let mut random = Random::new(SEED);
    let mut out = [Vec::new(), Vec::new()];
    for Touched { column, times, members, .. } in touched {
        let draws = of(*column);
        let every = (draws.len() / THINNED).max(1);
        for (t, value) in draws.into_iter().step_by(every).enumerate() {
            // Drawn for each channel alike: one thing does it in both. What a bundle does beyond its members goes when any of
            // them goes.
            let carrier = members.get((random.uniform() * members.len() as f64) as usize);
            let side = usize::from(carrier.is_some_and(|u| !tested.contains(u)));
            for (i, side_draws) in out.iter_mut().enumerate() {
                if side_draws.len() <= t {
                    side_draws.push(0.0);
                }
                side_draws[t] += if i == side { times * value } else { 0.0 };
            }
        }
    }
    out
}

impl Toggle {
    /// What it is worth to try it, [`RUNS_A_SIDE`] runs a side in one day, there and back.
    pub fn worth(&self, estimates: &Estimates) -> Option<Worth> {
        let fit = estimates.kept.fit.as_ref()?;
        let mut channels = Vec::new();
        for (c, [tested, rest]) in fit.channels.iter().zip(&self.draws) {
            channels.push(Channel { times: c.times, run_sd: c.sd[0], tested: tested.clone(), rest: rest.clone() });
        }
        Some(worth(&channels, estimates.asked.matters, RUNS_A_SIDE))
    }
}

/// One channel of an experiment.
struct Channel {
    times: f64,
    run_sd: f64,
    tested: Vec<f64>,
    rest: Vec<f64>,
}

/// The gain of the best choice: leave it, put back what was tried, the rest, or both; from what each is worth on average.
fn best(tested: f64, rest: f64, matters: f64) -> f64 {
    [-tested, -rest, -(tested + rest)].into_iter().map(|gain| gain - matters).fold(0.0, f64::max)
}

fn worth(channels: &[Channel], matters: f64, runs_a_side: usize) -> Worth {
    let draws = channels.first().map_or(0, |c| c.tested.len());
    if draws == 0 {
        return Worth { gain: 0.0, now: 0.0, settles: 0.0 };
    }
    let sum = |of: &dyn Fn(&Channel, usize) -> f64| -> Vec<f64> {
        (0..draws).map(|t| channels.iter().map(|c| c.times * of(c, t)).sum()).collect()
    };
    let (tested, rest) = (sum(&|c, t| c.tested[t]), sum(&|c, t| c.rest[t]));
    let mean = |v: &[f64]| v.iter().sum::<f64>() / draws as f64;
    let now = best(mean(&tested), mean(&rest), matters);
    let mut random = Random::new(SEED + 1);
    let (mut after, mut settled) = (0.0, 0);
    for _ in 0..REPEATS {
        let truth = ((random.uniform() * draws as f64) as usize).min(draws - 1);
        let seen: Vec<(f64, f64)> = channels
            .iter()
            .map(|c| {
                let variance = More::variance(c.run_sd, runs_a_side);
                (c.tested[truth] + variance.sqrt() * random.normal(), variance)
            })
            .collect();
        let ln = |t: usize| -> f64 {
            -0.5 * channels.iter().zip(&seen).map(|(c, (y, v))| (y - c.tested[t]).powi(2) / v).sum::<f64>()
        };
        let ln: Vec<f64> = (0..draws).map(ln).collect();
        let most = ln.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let weights: Vec<f64> = ln.iter().map(|l| (l - most).exp()).collect();
        let total: f64 = weights.iter().sum();
        let weighed = |v: &[f64]| v.iter().zip(&weights).map(|(x, w)| x * w).sum::<f64>() / total;
        after += best(weighed(&tested), weighed(&rest), matters);
        let share = |is: &dyn Fn(f64) -> bool| {
            tested.iter().zip(&weights).filter(|(x, _)| is(**x)).map(|(_, w)| w).sum::<f64>() / total
        };
        let gain = share(&|x| x < -matters);
        let loss = share(&|x| x > matters);
        let same = share(&|x| x.abs() <= 2.0 * matters);
        settled += usize::from([gain, loss, same].iter().any(|p| *p >= SETTLED));
    }
    let gain = (after / REPEATS as f64 - now).max(0.0);
    Worth { gain, now, settles: settled as f64 / REPEATS as f64 }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn normal(n: usize, sd: f64, seed: u64) -> Vec<f64> {
        let mut random = Random::new(seed);
        (0..n).map(|_| sd * random.normal()).collect()
    }

    fn one(tested: Vec<f64>, run_sd: f64) -> [Channel; 1] {
        let rest = vec![0.0; tested.len()];
        [Channel { times: 1.0, run_sd, tested, rest }]
    }

    /// Raiffa and Schlaifer: of a normal belief about nothing with sd s, seen with variance v, worth s* phi(0), with
    /// s*^2 = s^4 / (s^2 + v).
    #[test]
    fn as_the_formula_has_it_for_a_normal_belief() {
        let (s, run_sd) = (0.02, 0.014);
        let v = More::variance(run_sd, RUNS_A_SIDE);
        let wanted = s * s / (s * s + v).sqrt() * 0.398_942_3;
        let got = worth(&one(normal(2000, s, 3), run_sd), 0.0, RUNS_A_SIDE);
        // 200 repeats of something that scatters by 0.6 s*: 4 standard errors.
        let error = 4.0 * 0.6 * wanted / 0.4 / (REPEATS as f64).sqrt();
        assert!((got.gain + got.now - wanted).abs() < error, "{got:?}, not {wanted}");
    }

    #[test]
    fn what_is_known_is_worth_nothing_to_try() {
        // Surely a gain of 20 ms to put it back: choosing now gains it.
        let sure = worth(&one(vec![-0.020; 400], 0.014), 0.005, 2);
        assert!(sure.gain < 1e-9 && (sure.now - 0.015).abs() < 1e-9 && sure.settles == 1.0, "{sure:?}");
        // Surely nothing.
        let nothing = worth(&one(vec![0.0; 400], 0.014), 0.005, 2);
        assert_eq!((nothing.gain, nothing.now), (0.0, 0.0));
    }

    #[test]
    fn more_doubt_is_worth_more_and_more_scatter_less() {
        let narrow = worth(&one(normal(400, 0.005, 5), 0.014), 0.005, 2).gain;
        let wide = worth(&one(normal(400, 0.030, 5), 0.014), 0.005, 2).gain;
        let noisy = worth(&one(normal(400, 0.030, 5), 0.060), 0.005, 2).gain;
        assert!(narrow < wide && noisy < wide, "{narrow} {wide} {noisy}");
    }

    /// Two that always changed together, and one of them did it: trying one tells of the other.
    #[test]
    fn half_of_a_bundle_tells_of_the_other_half() {
        let column = |column, times, members| Touched { column, times, members, together: 0 };
        let touched = column(0, 1.0, vec![0, 1]);
        let draws = vec![0.030; 4000];
        let [tested, rest] = carried(&[&touched], &[0], &|_| draws.clone());
        assert!(tested.iter().zip(&rest).all(|(a, b)| (a + b - 0.030).abs() < 1e-12 && a * b == 0.0));
        let share = tested.iter().filter(|x| **x != 0.0).count() as f64 / tested.len() as f64;
        assert!((share - 0.5).abs() < 0.1, "{share}");
        // Putting both back loses 30 ms; so does the one that did it. Nothing to gain: knowing is worth nothing.
        let lost =
            worth(&[Channel { times: 1.0, run_sd: 0.010, tested: tested.clone(), rest: rest.clone() }], 0.005, 2);
        assert_eq!(lost.gain, 0.0);
        // One half did 30 ms of good and the other 25 of harm: back goes the one that hurts, once it is known.
        let other = column(1, -25.0 / 30.0, vec![0, 1]);
        let [tested, rest] = carried(&[&touched, &other], &[0], &|_| draws.clone());
        let parted = worth(&[Channel { times: 1.0, run_sd: 0.010, tested, rest }], 0.005, 2);
        assert!(parted.gain > 0.003, "{parted:?}");
    }

    #[test]
    fn the_same_book_gives_the_same_answer() {
        let a = worth(&one(normal(400, 0.02, 9), 0.014), 0.005, 2);
        assert_eq!(a, worth(&one(normal(400, 0.02, 9), 0.014), 0.005, 2));
    }
}
