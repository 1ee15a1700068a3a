//! What the page of verbs shows works: every example runs, and every property answers, in a small
//! scene.

use std::sync::Arc;

use dryturn_record::documents::Verb;
use dryturn_script::{Host, names_used_by, run, verbs};
use dryturn_units::noise::Seed;

struct Scenes;

impl Host for Scenes {
    fn read_text(&self, path: &str) -> Result<String, String> {
        let path = path.strip_prefix("../").unwrap_or(path);
        std::fs::read_to_string(format!("../../../{path}")).map_err(|error| error.to_string())
    }

    fn progress(&self, _: &str, _: usize, _: usize) {}
}

/// A line that makes a scene makes a small one, of one ray a pixel.
fn small(line: &str) -> String {
    let Some(scene) = line.split_once("= scene(").map(|(_, scene)| scene.trim_end_matches(';'))
    else {
        return line.to_owned();
    };
    let name = line.split(' ').nth(1).unwrap();
    format!("let {name} = changed(resized(scene({scene}, 160, 120), \"cameras.*.samples_px\", 1);")
}

/// The examples of a chapter, each in a block of its own, behind the names that they use.
fn script(chapter: &[Verb]) -> String {
    let property = |verb: &Verb| {
        let of = match verb.call.split_once('.') {
            Some((of, _)) if verb.of.is_some() => of,
            _ => return None,
        };
        // A scene stands for any; the others are named after what they are.
        let of = if of == "scene" { "foyer" } else { of };
        Some(format!("let answer = {of}.{};", verb.name))
    };
    let examples = chapter.iter().flat_map(|verb| [property(verb), verb.example.clone()]);
    let examples: Vec<String> = examples.flatten().collect();
    let names = names_used_by(&examples.join("\n"));
    let before: Vec<String> = names.iter().map(|own| small(&own.line)).collect();
    let blocks: Vec<String> = examples.iter().map(|own| format!("{{\n{own}\n}}")).collect();
    format!("{}\n{}\n", before.join("\n"), blocks.join("\n"))
}

#[test]
fn every_example_runs() {
    let verbs = verbs();
    for chapter in verbs.chunk_by(|one, other| one.chapter == other.chapter) {
        let heading = &chapter[0].chapter;
        let text = script(chapter);
        let started = std::time::Instant::now();
        let ended = run("examples.rhai", &text, Seed::new(1), Arc::new(Scenes));
        println!("{heading}: {:.1} s", started.elapsed().as_secs_f64());
        if let Err(error) = ended {
            let numbered: Vec<String> =
                text.lines().enumerate().map(|(n, line)| format!("{:3} {line}", n + 1)).collect();
            panic!("{heading}: {error}\n{}", numbered.join("\n"));
        }
    }
}
