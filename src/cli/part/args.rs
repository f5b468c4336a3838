//! What the parts' subcommands take.

use clap::{Args, Subcommand, ValueEnum};

#[derive(Debug, Subcommand)]
pub(super) enum What {
    /// Put a part on record: its name, its kind, words of its values and limits
    Add(AddArgs),
    /// Change what is on record of a part
    Set(SetArgs),
    /// Put a part on the car: a change of the car
    Fit(FitArgs),
    /// It is no longer there: sold, scrapped
    Gone(GoneArgs),
}

/// What can be said of a part beside its values.
#[derive(Debug, Args)]
pub(super) struct Facts {
    /// Passes that were on it when it came
    #[arg(long, value_name = "PASSES", value_parser = clap::value_parser!(u32).range(0..=100_000))]
    pub(super) came_with: Option<u32>,
    /// Whether it goes with the car when that is sold
    #[arg(long, value_name = "YES|NO")]
    pub(super) goes_with: Option<YesNo>,
    /// Words beside it; "-" takes them away
    #[arg(long, value_name = "TEXT")]
    pub(super) note: Option<String>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(super) enum YesNo {
    Yes,
    No,
}

#[derive(Debug, Args)]
pub(super) struct AddArgs {
    /// Its name, then what describes it: size 28 x 9-15, sidewall soft, least pressure 11
    #[arg(required = true, value_name = "NAME AND WORDS", allow_negative_numbers = true)]
    pub(super) words: Vec<String>,
    /// What it is: rear tires, front shocks, torsion bars, converter ...
    #[arg(long, value_name = "KIND")]
    pub(super) kind: String,
    #[command(flatten)]
    pub(super) facts: Facts,
}

#[derive(Debug, Args)]
pub(super) struct SetArgs {
    /// Its name, then what describes it; `least pressure -` takes a limit away
    #[arg(required = true, value_name = "NAME AND WORDS", allow_negative_numbers = true)]
    pub(super) words: Vec<String>,
    /// What it is, where two kinds have a part of that name
    #[arg(long, value_name = "KIND")]
    pub(super) kind: Option<String>,
    /// It was gone and is there again
    #[arg(long)]
    pub(super) back: bool,
    #[command(flatten)]
    pub(super) facts: Facts,
}

#[derive(Debug, Args)]
pub(super) struct FitArgs {
    /// Its name, then what else was changed with it, as for `change`
    #[arg(required = true, value_name = "NAME AND WORDS", allow_negative_numbers = true)]
    pub(super) words: Vec<String>,
    /// What it is, where two kinds have a part of that name
    #[arg(long, value_name = "KIND")]
    pub(super) kind: Option<String>,
    /// Only on this side, where the two sides have a part each
    #[arg(long, value_name = "SIDE")]
    pub(super) side: Option<String>,
    /// Why
    #[arg(long, value_name = "TEXT")]
    pub(super) why: Option<String>,
    /// When it happened, if not now
    #[arg(long, value_name = "TIME")]
    pub(super) when: Option<String>,
    #[command(flatten)]
    pub(super) steps: super::super::plan::StepArgs,
    /// Say what would be recorded, and record nothing
    #[arg(long)]
    pub(super) dry_run: bool,
}

#[derive(Debug, Args)]
pub(super) struct GoneArgs {
    /// Its name, then how: sold to Wren, scrapped
    #[arg(required = true, value_name = "NAME AND HOW")]
    pub(super) words: Vec<String>,
    /// What it is, where two kinds have a part of that name
    #[arg(long, value_name = "KIND")]
    pub(super) kind: Option<String>,
    /// When, if not today
    #[arg(long, value_name = "TIME")]
    pub(super) when: Option<String>,
}
