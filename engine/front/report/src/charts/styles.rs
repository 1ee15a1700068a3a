//! How kinds of failure look: each has a colour, a dash and a mark of its own, so that they
//! can be told apart without colours too.

use dryturn_studies::FailureKind;
use maud::{Markup, html};

use crate::charts::svg::{self, px};

/// How a series is drawn: class of its colour and dash, outline of its mark.
#[derive(Clone, Copy)]
pub(crate) struct Style {
    /// In `page.css`.
    pub(crate) class: &'static str,
    /// Path round the origin, px.
    mark: &'static str,
}

/// All failures together, or whatever has a picture of its own.
pub(crate) const TOTAL: Style =
    Style { class: "total", mark: "M-4 0a4 4 0 1 0 8 0a4 4 0 1 0 -8 0Z" };

/// Of one kind.
pub(crate) fn style(kind: FailureKind) -> Style {
    let (class, mark) = match kind {
        FailureKind::Jam => ("kind-jam", "M-4 -4H4V4H-4Z"),
        FailureKind::JamBrokeShaft => ("kind-jam-broke", "M0 -6L6 0L0 6L-6 0Z"),
        FailureKind::ShaftBroke => ("kind-broke", "M0 -6L5.5 4H-5.5Z"),
        FailureKind::DriveStop => ("kind-drive", "M0 6L5.5 -4H-5.5Z"),
        FailureKind::LinkLost => {
            ("kind-link", "M-5 -3L-3 -5L0 -2L3 -5L5 -3L2 0L5 3L3 5L0 2L-3 5L-5 3L-2 0Z")
        }
        FailureKind::Watchdog => {
            ("kind-watchdog", "M-1.5 -5H1.5V-1.5H5V1.5H1.5V5H-1.5V1.5H-5V-1.5H-1.5Z")
        }
        FailureKind::Supply => ("kind-supply", "M0 -6L6 -1.5L3.5 5H-3.5L-6 -1.5Z"),
        FailureKind::NoShaft => ("kind-no-shaft", "M-6 -2H6V2H-6Z"),
        FailureKind::EmergencyStop => ("kind-emergency", "M-2 -6H2V6H-2Z"),
        FailureKind::SimulationLimit => ("kind-simulation", "M-5 -5H5L0 0L5 5H-5L0 0Z"),
        FailureKind::HostStop => ("kind-host", "M-5 -5H5V0H-5Z"),
        FailureKind::Guest => ("kind-guest", "M-5 5V-2L0 -6L5 -2V5Z"),
    };
    Style { class, mark }
}

impl Style {
    /// Its mark at a place.
    pub(crate) fn mark(self, x: f64, y: f64) -> Markup {
        html! {
            path class={ "spot " (self.class) }
                transform={ "translate(" (px(x)) " " (px(y)) ")" } d=(self.mark) {}
        }
    }

    /// Its line.
    pub(crate) fn line(self, data: &str) -> Markup {
        svg::path(&format!("series {}", self.class), data, "")
    }
}

/// What the series of a picture are.
pub(crate) fn legend(series: &[(Style, &str)]) -> Markup {
    html! {
        ul.series-key {
            @for (style, name) in series {
                li {
                    svg viewBox="0 0 44 14" width="44" height="14" aria-hidden="true" {
                        (style.line("M1 7H43"))
                        (style.mark(22.0, 7.0))
                    }
                    (name)
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// No two kinds share a class or a mark, and every class has a colour and a dash of its
    /// own in the page's style.
    #[test]
    fn kinds_look_different_with_and_without_colours() {
        let mut styles = FailureKind::ALL.map(style).to_vec();
        styles.push(TOTAL);
        let css = include_str!("../page.css");
        let mut looks: Vec<[&str; 3]> = Vec::new();
        for style in &styles {
            let rule = css.split(&format!(".{} {{", style.class)).nth(1);
            let rule = rule.unwrap_or_else(|| panic!("no rule for {}", style.class));
            let value = |name: &str| {
                let own = rule.split('}').next().unwrap().split(&format!("{name}:")).nth(1);
                own.unwrap_or_else(|| panic!("no {name}: {}", style.class))
                    .split(';')
                    .next()
                    .unwrap()
            };
            looks.push([value("--own"), value("stroke-dasharray"), style.mark]);
        }
        for place in 0..3 {
            let mut own: Vec<&str> = looks.iter().map(|look| look[place].trim()).collect();
            own.sort_unstable();
            own.dedup();
            assert_eq!(own.len(), styles.len(), "{own:?}");
        }
    }
}
