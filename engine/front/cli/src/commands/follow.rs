//! `dryturn follow FILE --scene SCENE`: executions that follow an exported rig plan.

use std::fmt::Write as _;
use std::path::PathBuf;

use dryturn_handoff::Run;
use dryturn_record::documents::{Document, FirstFailure, FollowDocument};
use dryturn_studies::{Followed, PROOF_EXECUTIONS, RigFile, finite};
use indicatif::ProgressBar;

use crate::commands::{Out, given, issued};
use crate::failure::Failure;
use crate::shared::{Shared, setting};
use crate::{input, say, stop};

/// The export was proved by the trials before this one.
const FIRST: u64 = PROOF_EXECUTIONS as u64;

/// What `follow` takes.
#[derive(clap::Args)]
pub(crate) struct FollowArgs {
    /// The rig plan, as `plan --for-rig` writes it (rig-plan.csv)
    #[arg(value_name = "FILE")]
    file: PathBuf,

    /// The scene whose axes follow it, at the file's ceiling
    #[arg(long, value_name = "SCENE")]
    scene: PathBuf,

    /// Executions, each with errors of its own; none that the export was proved by
    #[arg(long, default_value_t = 1000, value_name = "N",
          value_parser = clap::value_parser!(u32).range(1..=1_000_000))]
    trials: u32,

    /// Another value for a field of the scene; repeat the option for more, they take effect in order
    #[arg(long = "set", value_name = "FIELD=VALUE", value_parser = setting)]
    settings: Vec<(String, String)>,
}

pub(crate) fn run(args: &FollowArgs, shared: &Shared) -> Result<u8, Failure> {
    let out = Out::open(shared, &["follow.json", "encoders.csv", "starts.csv"])?;
    let scene = input::scene_with(&args.scene, &args.settings)?;
    let shown = args.file.display();
    let file = RigFile::parse(&input::text(&args.file)?)
        .map_err(|error| Failure::input(format!("{shown}: {error}")))?;
    let bar = say::bar(ProgressBar::new(u64::from(args.trials)));
    let progress = |_| {
        bar.inc(1);
        stop::go_on()
    };
    let first = shared.seed.trial(FIRST);
    let followed = file.follow(&scene, first, args.trials as usize, &progress);
    bar.finish_and_clear();
    let followed = followed
        .ok_or_else(|| Failure::broken_off("nothing is kept of executions that follow a plan"))?;
    let document = issued(Document::Follow(document(args, &file, &followed, shared)));
    let mut files = Vec::new();
    if shared.out.is_some() {
        let run = file.run(&scene, first);
        let run = run.ok_or_else(|| Failure::ours("a file without a ceiling"))?;
        files = vec![("encoders.csv", encoders(&run)), ("starts.csv", starts(&run))];
    }
    out.keep_all(&document, "follow.json", &files)?;
    if shared.json {
        say::document(&document)?;
    } else {
        say::result(&words(&file, &followed))?;
    }
    Ok(u8::from(followed.failures() > 0))
}

fn document(
    args: &FollowArgs,
    file: &RigFile,
    followed: &Followed,
    shared: &Shared,
) -> FollowDocument {
    let ms = |share| followed.time_s(share).map(|s| s * 1e3);
    let first = followed.first.clone();
    FollowDocument {
        file: args.file.display().to_string(),
        scene: args.scene.display().to_string(),
        seed: shared.seed.value(),
        settings: given(&args.settings),
        plan: file.sheet.plan().notation(),
        ceiling_share: file.ceiling_share,
        safe: file.safe,
        overlaps: file.sheet.overlaps(),
        counts: followed.counts,
        fail_at_most_share: followed.fail_at_most_share(),
        median_ms: ms(0.5),
        p95_ms: ms(0.95),
        peak_torque_n_m: finite(followed.peak_torque_n_m),
        safety_factor: finite(followed.safety_factor_ratio),
        first_failure: first.map(|(execution, because)| FirstFailure { execution, because }),
    }
}

/// The figures for a person.
fn words(file: &RigFile, followed: &Followed) -> String {
    let mut text = format!(
        "at ceiling {}: {} of {} executions were clean; with 95 % confidence at most {:.2} % fail\n\
         jammed {}, stopped otherwise {}, with a face that was stuck and got through {}",
        file.ceiling_share,
        followed.counts.clean,
        followed.counts.executions,
        100.0 * followed.fail_at_most_share(),
        followed.counts.jammed,
        followed.counts.stopped,
        followed.counts.pushed
    );
    if let (Some(median), Some(late)) = (followed.time_s(0.5), followed.time_s(0.95)) {
        let (median_ms, late_ms) = (median * 1e3, late * 1e3);
        text.push_str(&format!("\ntime: median {median_ms:.1} ms, 95 % {late_ms:.1} ms"));
    }
    text.push_str(&format!(
        "\nlargest torque in a shaft {:.3} N·m; least safety factor {:.2}",
        followed.peak_torque_n_m, followed.safety_factor_ratio
    ));
    if let Some((trial, why)) = &followed.first {
        text.push_str(&format!("\nexecution {trial}: {why}"));
    }
    text
}

/// What the six encoders read in a run, to feed a follower on the desk.
fn encoders(run: &Run) -> String {
    let mut text = String::from("time_ms,U_deg,R_deg,F_deg,D_deg,L_deg,B_deg\n");
    for (number, angles) in run.trace.encoders_deg.iter().enumerate() {
        let [u, r, f, d, l, b] = angles;
        let time_ms = number as f64 * run.trace.step_s * 1e3;
        // Writing to a String cannot fail.
        let _ = writeln!(text, "{time_ms:.3},{u:.3},{r:.3},{f:.3},{d:.3},{l:.3},{b:.3}");
    }
    text
}

/// When set-points began to move in a run, in order.
fn starts(run: &Run) -> String {
    let mut text = String::from("beat,face,quarters,start_ms\n");
    let turns = |beat: &dryturn_handoff::BeatRun| {
        let number = beat.beat + 1;
        beat.turns.iter().map(move |turn| (number, *turn)).collect::<Vec<_>>()
    };
    for (beat, started) in run.beats.iter().flat_map(turns) {
        let quarters = started.turn.amount.angle_deg() / 90.0;
        let _ =
            writeln!(text, "{beat},{},{quarters},{:.3}", started.turn.face, started.start_s * 1e3);
    }
    text
}
