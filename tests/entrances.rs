//! Every entrance for strangers' bytes, with files in order that are changed at random: whatever
//! comes in, it is taken or refused with a reason. No panic, no endless work, no heap of memory.
//!
//! A short run of each is a test. The long one is by hand:
//!
//! ```text
//! export CARGO_PROFILE_RELEASE_OVERFLOW_CHECKS=true DRYTURN_FUZZ=scene
//! long="cargo test --release -p dryturn-cli --test dryturn"
//! $long --no-run && (ulimit -v 4000000; $long -- --ignored --nocapture many_executions)
//! ```
//!
//! Where `ulimit -v` bounds its memory, work that takes ever more ends with the process; files
//! `dryturn-entrance-NAME-thread-N` in the system's folder for such then hold the numbers of the
//! executions that were at work, as where a stack overflows.
//!
//! `DRYTURN_FUZZ` is an entrance's name, all of them unless given; `DRYTURN_FUZZ_EXECUTIONS` how
//! many, a million of each unless given; `DRYTURN_FUZZ_SEED` another campaign; `DRYTURN_FUZZ_FROM`
//! the number of the first execution, to go on with a campaign or to see one execution again. What
//! is found is stored as `NAME-WHAT` in the folder `found` beside this module's others, and tried
//! in every test run. The same bodies are run under coverage in `engine/fuzz/`.

mod bodies;
mod mutate;
mod run;
mod seeds;
mod words;

use std::path::{Path, PathBuf};

use crate::help;
use mutate::Mutator;
use run::{Asked, Work, peak_bytes};
use seeds::Seeds;

/// Largest text that is made, and largest picture; a setting is what fits into a command line.
const TEXT: usize = 64 << 10;
const LINE: usize = 4 << 10;
const PICTURE: usize = 16 << 10;
/// What the long form allows: longest time of an execution, and memory of the process.
const LONGEST_S: f64 = 5.0;
const MOST_BYTES: u64 = 1_000_000_000;

/// Where strangers' bytes come in.
struct Entrance {
    name: &'static str,
    body: fn(&[u8]) -> bool,
    seeds: fn() -> Seeds,
    most_bytes: usize,
    /// Executions of the short run, about a second's.
    short: u64,
}

/// All of them, by the names of their bodies and seeds, each with a test that is its short run.
macro_rules! entrances {
    ($($name:ident: $most_bytes:ident, $short:literal;)+) => {
        const ALL: &[Entrance] = &[$(Entrance {
            name: stringify!($name),
            body: bodies::$name,
            seeds: seeds::$name,
            most_bytes: $most_bytes,
            short: $short,
        }),+];

        mod short {
            $(
                #[test]
                fn $name() {
                    super::short_run(stringify!($name));
                }
            )+
        }
    };
}

entrances! {
    scene: TEXT, 800;
    setting: LINE, 800;
    script: TEXT, 150;
    axis_log: TEXT, 3000;
    run_log: TEXT, 3000;
    points: TEXT, 8000;
    pairs: TEXT, 20_000;
    curves: TEXT, 1000;
    calibration: TEXT, 3000;
    cube: TEXT, 20_000;
    notation: TEXT, 20_000;
    known_cubes: TEXT, 10_000;
    rig_plan: TEXT, 10_000;
    ledger: TEXT, 5000;
    document: TEXT, 3000;
    picture: PICTURE, 3000;
    raw_picture: PICTURE, 3000;
}

fn named(name: &str) -> &'static Entrance {
    ALL.iter().find(|own| own.name == name).unwrap_or_else(|| panic!("no entrance {name}"))
}

impl Entrance {
    fn work(&self, asked: Asked) -> Work {
        let mutator = Mutator::of((self.seeds)(), self.most_bytes);
        // What is made when it is first needed is made before times are taken; and a file that is
        // in order must be taken, or changes of it tell little.
        let taken = mutator.seeds().iter().filter(|seed| (self.body)(seed)).count();
        assert!(taken > 0, "no file of {} is taken as it is", self.name);
        Work { name: self.name, body: self.body, mutator, asked }
    }
}

/// The same bytes in every test run, and no look at the time.
fn short_run(name: &str) {
    let own = named(name);
    let executions = own.short;
    let asked = Asked { seed: 1, from: 0, executions, threads: 1, longest_s: None, kept: false };
    let ran = own.work(asked).all();
    assert!(ran.troubles.is_empty(), "{}\n{}", ran.words(), ran.troubles.join("\n"));
    assert_eq!(ran.executions, executions);
}

/// See the head of this file.
#[test]
#[ignore = "takes hours"]
fn many_executions() {
    let only = std::env::var("DRYTURN_FUZZ").unwrap_or_default();
    let asked = Asked {
        seed: help::setting("DRYTURN_FUZZ_SEED", 1),
        from: help::setting("DRYTURN_FUZZ_FROM", 0),
        executions: help::setting("DRYTURN_FUZZ_EXECUTIONS", 1_000_000),
        threads: rayon::current_num_threads(),
        longest_s: Some(LONGEST_S),
        kept: true,
    };
    let chosen: Vec<&Entrance> =
        if only.is_empty() { ALL.iter().collect() } else { vec![named(&only)] };
    let mut troubles = Vec::new();
    for own in chosen {
        let ran = own.work(asked).all();
        println!("{}: {}", own.name, ran.words());
        troubles.extend(ran.troubles);
        if let Some(peak) = peak_bytes() {
            println!("  at most {} MB resident so far", peak / 1_000_000);
            if peak > MOST_BYTES {
                troubles.push(format!("{}: {peak} bytes were resident", own.name));
                break;
            }
        }
    }
    assert!(troubles.is_empty(), "{}", troubles.join("\n"));
}

/// What was found once is mended for ever.
#[test]
fn what_was_found_is_taken_or_refused() {
    let folder = help::root().join("tests/entrances/found");
    let Ok(entries) = std::fs::read_dir(&folder) else { return };
    let mut paths: Vec<PathBuf> = entries.map(|entry| entry.unwrap().path()).collect();
    paths.sort();
    for path in paths {
        println!("{}", path.display());
        let name = path.file_name().unwrap().to_str().unwrap();
        let (entrance, _) = name.split_once('-').expect("ENTRANCE-WHAT");
        (named(entrance).body)(&std::fs::read(&path).unwrap());
    }
}

/// Writes the files in order into a folder for each entrance, for a fuzzer to begin with:
/// `DRYTURN_FUZZ_CORPUS=engine/fuzz/corpus`, from the repository's root.
#[test]
#[ignore = "writes where it is told"]
fn files_in_order_are_written() {
    let folder = std::env::var("DRYTURN_FUZZ_CORPUS").expect("DRYTURN_FUZZ_CORPUS names a folder");
    for own in ALL {
        let folder = help::root().join(Path::new(&folder)).join(own.name);
        std::fs::create_dir_all(&folder).unwrap();
        for (number, seed) in (own.seeds)().iter().enumerate() {
            std::fs::write(folder.join(format!("seed-{number:02}")), seed).unwrap();
        }
    }
}

/// Both packages have all of them.
#[test]
fn the_fuzzer_has_every_entrance() {
    let manifest = help::read("engine/fuzz/Cargo.toml");
    for own in ALL {
        let target = help::read(format!("engine/fuzz/fuzz_targets/{}.rs", own.name));
        assert!(target.contains(&format!("bodies::{}(", own.name)), "{target}");
        assert!(manifest.contains(&format!("fuzz_targets/{}.rs", own.name)), "{}", own.name);
    }
    assert_eq!(manifest.matches("[[bin]]").count(), ALL.len());
}
