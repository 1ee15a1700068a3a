//! Ways to read, compared: a table, how far probabilities can be trusted, and what was
//! taken for what.

use core::fmt::Write as _;
use std::sync::Arc;

use dryturn_scene::Scene;
use dryturn_scene::file::Method;
use dryturn_statistics::{Z_95, wilson};
use dryturn_studies::{ReaderTable, ReaderTally};

use crate::confusion;
use crate::html::Escaped;

/// Bounds of the classes of claims, from surely wrong to surely right.
const CLAIMS: [f64; 9] = [0.0, 0.2, 0.4, 0.6, 0.8, 0.9, 0.99, 0.999, 0.9999];

/// What a person calls a way to read.
pub(crate) fn method_name(method: Method) -> &'static str {
    match method {
        Method::Nearest => "summed RGB difference",
        Method::Chromaticity => "chromaticity rule",
        Method::Lab => "CIELAB, CIEDE2000",
        Method::Gaussian => "Gaussian classes",
        Method::Likely => "Gaussian classes and decoder",
        Method::Blind => "decoder without a calibration",
    }
}

pub(crate) fn section((title, tables): &(String, Vec<Arc<ReaderTable>>)) -> String {
    let scans: usize = tables.iter().map(|table| table.scans).sum();
    let mut out = format!("<section><h2>{}</h2><p>{scans} scans.</p>", Escaped(title));
    table(&mut out, tables);
    let methods: Vec<Method> =
        tables.first().iter().flat_map(|t| &t.readers).map(|tally| tally.method).collect();
    for method in methods {
        let own = tables.iter().flat_map(|t| t.readers.iter().find(|r| r.method == method));
        let Some(sum) = ReaderTally::sum(own) else { continue };
        if !sum.claims.is_empty() {
            claims(&mut out, &sum);
        }
        confusion(&mut out, &tables[0].read_in, &sum);
    }
    out.push_str("</section>");
    out
}

fn table(out: &mut String, tables: &[Arc<ReaderTable>]) {
    out.push_str(
        "<table class=\"readers\"><thead><tr><th>scans</th><th>way to read</th><th>facelets right</th>\
         <th>cubes right</th><th>refused</th><th>wrong</th><th>wrong at most</th></tr></thead><tbody>",
    );
    for table in tables {
        for (k, tally) in table.readers.iter().enumerate() {
            let percent = |count: usize| 100.0 * count as f64 / table.scans.max(1) as f64;
            let bound = match tally.believed() {
                0 => "none read".to_owned(),
                _ => format!("{:.3} %", 100.0 * tally.wrong_at_most().1),
            };
            out.push_str("<tr>");
            // Writing to a String cannot fail.
            if k == 0 {
                let _ = write!(
                    out,
                    "<th rowspan=\"{}\">{}<br>{} scans</th>",
                    table.readers.len(),
                    Escaped(&table.name),
                    table.scans
                );
            }
            let _ = write!(
                out,
                "<td>{}</td><td>{:.2}&nbsp;%</td><td>{:.1}&nbsp;%</td><td>{:.1}&nbsp;%</td><td>{}</td>\
                 <td>{bound}</td></tr>",
                method_name(tally.method),
                100.0 * tally.counts.facelets_right as f64 / tally.counts.facelets.max(1) as f64,
                percent(tally.counts.right),
                percent(tally.counts.refused),
                tally.counts.wrong,
            );
        }
    }
    out.push_str(
        "</tbody></table><p class=\"aside\">Facelets: those that a camera sees. Wrong at most: exact \
         one-sided 95 % bound of the share of wrong cubes among those that were read.</p>",
    );
    let names = |table: &Arc<ReaderTable>| {
        [&table.calibrated_in, &table.read_in].map(|scene| scene.file().name.clone())
    };
    let first = names(&tables[0])[0].clone();
    if tables.iter().flat_map(names).all(|name| name == first) {
        // One scene, changed by the script: its name says nothing.
        return;
    }
    out.push_str("<ul class=\"aside\">");
    for table in tables {
        let _ = write!(
            out,
            "<li>{}: calibrated in <i>{}</i>, read in <i>{}</i></li>",
            Escaped(&table.name),
            Escaped(&table.calibrated_in.file().name),
            Escaped(&table.read_in.file().name)
        );
    }
    out.push_str("</ul>");
}

/// Claims of a class, and how many were right.
struct Class {
    from: f64,
    claims: usize,
    right: usize,
    mean: f64,
}

fn classes(sum: &ReaderTally) -> Vec<Class> {
    let class = |(k, &from): (usize, &f64)| {
        let below = CLAIMS.get(k + 1).copied().unwrap_or(f64::INFINITY);
        let own = || sum.claims.iter().filter(|c| c.0 >= from && c.0 < below);
        let claims = own().count();
        let mean = own().map(|c| c.0).sum::<f64>() / claims.max(1) as f64;
        Class { from, claims, right: own().filter(|c| c.1).count(), mean }
    };
    CLAIMS.iter().enumerate().map(class).collect()
}

/// How far the probabilities can be trusted.
fn claims(out: &mut String, sum: &ReaderTally) {
    let (claims, right) = sum.claiming(0.99);
    let _ = write!(
        out,
        "<h3>How far probabilities can be trusted: {}</h3><p>Of {claims} readings that claim at least \
         99 %, {right} are right ({}). Brier score {:.2e} over {} readings.</p><div class=\"pictures\">",
        method_name(sum.method),
        share(right, claims),
        sum.brier().unwrap_or_default(),
        sum.claims.len(),
    );
    let classes = classes(sum);
    reliability(out, &classes);
    confidence(out, &classes);
    out.push_str("</div>");
}

fn share(right: usize, all: usize) -> String {
    if all == 0 { "none".to_owned() } else { format!("{:.3} %", 100.0 * right as f64 / all as f64) }
}

/// The share that was right over the mean claim, class by class, with Wilson's intervals.
fn reliability(out: &mut String, classes: &[Class]) {
    let (size, left, top) = (220.0, 50.0, 14.0);
    let x = |p: f64| left + size * p;
    let y = |p: f64| top + size * (1.0 - p);
    let _ = write!(
        out,
        "<figure><svg class=\"histogram\" viewBox=\"0 0 {w} {h}\" width=\"{w}\" role=\"img\"><title>\
         Reliability diagram</title><path d=\"M{} {}V{}H{}\" fill=\"none\" stroke=\"#888\"/><path \
         d=\"M{} {}L{} {}\" stroke=\"#888\" stroke-dasharray=\"4 3\"/>",
        x(0.0),
        y(1.0),
        y(0.0),
        x(1.0),
        x(0.0),
        y(0.0),
        x(1.0),
        y(1.0),
        w = left + size + 20.0,
        h = top + size + 44.0,
    );
    for tick in [0.0, 0.5, 1.0] {
        let _ = write!(
            out,
            "<text x=\"{:.1}\" y=\"{:.1}\">{tick}</text><text x=\"{:.1}\" y=\"{:.1}\">{tick}</text>",
            x(tick),
            y(0.0) + 16.0,
            left - 18.0,
            y(tick) + 4.0,
        );
    }
    for class in classes.iter().filter(|class| class.claims > 0) {
        let (low, high) = wilson(class.right, class.claims, Z_95);
        let found = class.right as f64 / class.claims as f64;
        let _ = write!(
            out,
            "<g><title>{} readings claim {:.4} on average; {} right</title><path d=\"M{:.1} {:.1}V{:.1}\" \
             stroke=\"currentColor\" stroke-width=\"1.5\"/><circle cx=\"{:.1}\" cy=\"{:.1}\" r=\"4\"/></g>",
            class.claims,
            class.mean,
            class.right,
            x(class.mean),
            y(low),
            y(high),
            x(class.mean),
            y(found),
        );
    }
    let _ = write!(
        out,
        "<text x=\"{:.1}\" y=\"{:.1}\">claimed probability</text></svg><figcaption>share that was right \
         over claimed probability; bars: 95 % intervals (Wilson)</figcaption></figure>",
        x(0.5),
        y(0.0) + 34.0,
    );
}

/// How many readings claim how much.
fn confidence(out: &mut String, classes: &[Class]) {
    let (bar, height) = (52.0, 200.0);
    let width = bar * classes.len() as f64 + 20.0;
    let most = classes.iter().map(|class| class.claims).max().unwrap_or(1).max(1) as f64;
    let _ = write!(
        out,
        "<figure><svg class=\"histogram\" viewBox=\"0 0 {width} {h}\" width=\"{width}\" role=\"img\">\
         <title>Confidence histogram</title>",
        h = height + 60.0
    );
    for (k, class) in classes.iter().enumerate() {
        let x = 10.0 + bar * k as f64;
        let h = height * class.claims as f64 / most;
        let _ = write!(
            out,
            "<rect x=\"{:.1}\" y=\"{:.1}\" width=\"{:.1}\" height=\"{h:.1}\"/><text x=\"{:.1}\" \
             y=\"{:.1}\">{}</text><text x=\"{:.1}\" y=\"{:.1}\">{}</text>",
            x + 1.0,
            height + 16.0 - h,
            bar - 2.0,
            x + bar / 2.0,
            height + 12.0 - h,
            class.claims,
            x + bar / 2.0,
            height + 32.0,
            class.from,
        );
    }
    out.push_str("</svg><figcaption>readings by claimed probability, from …</figcaption></figure>");
}

/// What was taken for what, where anything was.
fn confusion(out: &mut String, scene: &Scene, sum: &ReaderTally) {
    let wrong = sum.counts.facelets - sum.counts.facelets_right;
    let name = method_name(sum.method);
    if wrong == 0 {
        let _ = write!(
            out,
            "<p>{name}: no facelet of {} was taken for another.</p>",
            sum.counts.facelets
        );
        return;
    }
    let _ = write!(
        out,
        "<details><summary>{name}: {wrong} of {} facelets taken for another colour</summary>",
        sum.counts.facelets
    );
    confusion::table(out, scene, &sum.confusion, |count| count.to_string());
    out.push_str("</details>");
}
