//! A chart: a plot with room round it, its axes with ticks and figures, and what is drawn in it.

use maud::{Markup, Render, html};

use crate::charts::scale::Scale;
use crate::charts::svg::{self, px};
use crate::html::figures::tick_text;
use crate::html::{class, framed};

/// Room for names and figures beside a plot, px.
const LEFT: f64 = 64.0;
/// Width of a chart that is as wide as the page, and its room at the right, px.
const WIDE: f64 = 1080.0;
const WIDE_RIGHT: f64 = 16.0;
/// Names of a legend are so far apart, px.
const LEGEND: f64 = 172.0;

/// Where a plot lies within its chart, px.
#[derive(Clone, Copy)]
pub(crate) struct Plot {
    pub(crate) left: f64,
    pub(crate) right: f64,
    pub(crate) top: f64,
    pub(crate) bottom: f64,
}

impl Plot {
    /// Room at the left for figures, and so wide and high.
    pub(crate) fn sized(top: f64, (width, height): (f64, f64)) -> Self {
        Self { left: LEFT, right: LEFT + width, top, bottom: top + height }
    }

    /// As wide as the page.
    pub(crate) fn wide(top: f64, height: f64) -> Self {
        Self::sized(top, (WIDE - WIDE_RIGHT - LEFT, height))
    }

    pub(crate) fn width(&self) -> f64 {
        self.right - self.left
    }

    pub(crate) fn height(&self) -> f64 {
        self.bottom - self.top
    }

    /// Half way across.
    pub(crate) fn middle(&self) -> f64 {
        (self.left + self.right) / 2.0
    }

    /// A linear scale across, some pixels in from both sides.
    pub(crate) fn across(&self, range: (f64, f64), inset: f64) -> Scale {
        Scale::linear(range, (self.left + inset, self.right - inset))
    }

    /// A linear scale from below, some pixels in from both ends.
    pub(crate) fn upwards(&self, range: (f64, f64), inset: f64) -> Scale {
        Scale::linear(range, (self.bottom - inset, self.top + inset))
    }
}

/// How an axis below a plot is laid out: px below the plot's bottom.
pub(crate) struct Below {
    /// Whether its lines cross the plot.
    pub(crate) across: bool,
    /// Where its lines end, where figures stand, and where its name.
    pub(crate) end: f64,
    pub(crate) figures: f64,
    pub(crate) name: f64,
}

/// A chart that is being drawn; what is drawn later lies above.
pub(crate) struct Chart {
    class: &'static str,
    title: String,
    plot: Plot,
    size: (f64, f64),
    fixed: bool,
    drawn: Vec<Markup>,
}

impl Chart {
    /// A chart that grows and shrinks with the page, with so much room right of the plot and
    /// below it, px.
    pub(crate) fn new(
        class: &'static str,
        title: impl Into<String>,
        plot: Plot,
        (right, below): (f64, f64),
    ) -> Self {
        let size = (plot.right + right, plot.bottom + below);
        Self { class, title: title.into(), plot, size, fixed: false, drawn: Vec::new() }
    }

    /// As wide as the page.
    pub(crate) fn wide(
        class: &'static str,
        title: impl Into<String>,
        plot: Plot,
        below: f64,
    ) -> Self {
        Self::new(class, title, plot, (WIDE_RIGHT, below))
    }

    /// No wider than it is drawn.
    pub(crate) fn fixed(self) -> Self {
        Self { fixed: true, ..self }
    }

    pub(crate) fn plot(&self) -> Plot {
        self.plot
    }

    pub(crate) fn width(&self) -> f64 {
        self.size.0
    }

    pub(crate) fn title(&self) -> &str {
        &self.title
    }

    pub(crate) fn draw(&mut self, element: Markup) {
        self.drawn.push(element);
    }

    /// The title above the plot.
    pub(crate) fn heading(&mut self) {
        let heading = svg::text("heading", (self.plot.left, 15.0), &self.title);
        self.draw(heading);
    }

    /// A background across the plot.
    pub(crate) fn lane(&mut self, top: f64, height: f64) {
        self.band("lane", (self.plot.left, self.plot.right), (top, height));
    }

    /// A rectangle from one place to another.
    pub(crate) fn band(&mut self, class: &str, (from, to): (f64, f64), (top, height): (f64, f64)) {
        self.draw(svg::rect(class, (from, top), ((to - from).max(0.0), height), ""));
    }

    /// A figure at the left of the plot.
    pub(crate) fn value(&mut self, y: f64, figure: &str) {
        self.draw(svg::text("value", (self.plot.left - 5.0, y), figure));
    }

    /// A line across the plot, with its value beside it.
    pub(crate) fn across(&mut self, y: f64, figure: &str) {
        self.draw(svg::level("tick", (self.plot.left, self.plot.right), y));
        self.value(y + 4.0, figure);
    }

    /// A tick below the plot, with its figure unless that is empty.
    pub(crate) fn below(&mut self, layout: &Below, x: f64, figure: &str) {
        let bottom = self.plot.bottom;
        let from = if layout.across { self.plot.top } else { bottom };
        self.draw(svg::upright("tick", x, (from, bottom + layout.end), ""));
        if !figure.is_empty() {
            self.draw(svg::text("tick-name", (x, bottom + layout.figures), figure));
        }
    }

    /// What the axis below the plot shows.
    pub(crate) fn name_below(&mut self, layout: &Below, name: &str) {
        let at = (self.plot.middle(), self.plot.bottom + layout.name);
        self.draw(svg::text("tick-name", at, name));
    }

    /// At most about `most` round figures below the plot, and what they are.
    pub(crate) fn axis_below(&mut self, layout: &Below, x: &Scale, most: usize, name: &str) {
        let (ticks, step) = x.ticks(most);
        for tick in ticks {
            self.below(layout, x.px(tick), &tick_text(tick, step));
        }
        self.name_below(layout, name);
    }

    /// A column from the bottom for a count, with its figure above it; the highest count fills
    /// the plot.
    pub(crate) fn column(
        &mut self,
        (x, width): (f64, f64),
        (count, most): (usize, usize),
        figure: &str,
    ) {
        let height = self.plot.height() * count as f64 / most as f64;
        let top = self.plot.bottom - height;
        self.draw(svg::rect("", (x + 1.0, top), (width - 2.0, height), ""));
        self.draw(svg::text("", (x + width / 2.0, top - 4.0), figure));
    }

    /// What the classes `part0` and so on are, in a row so far below the plot.
    pub(crate) fn legend(&mut self, below: f64, names: &[String]) {
        for (number, name) in names.iter().enumerate() {
            let (left, y) = (LEFT + LEGEND * number as f64, self.plot.bottom + below);
            let part = format!("part{number}");
            self.draw(svg::rect(&part, (left, y - 10.0), (12.0, 12.0), ""));
            self.draw(svg::text("legend", (left + 17.0, y), name));
        }
    }
}

impl Render for Chart {
    fn render(&self) -> Markup {
        let (width, height) = (px(self.size.0), px(self.size.1));
        framed(html! {
            svg class=[class(self.class)] viewBox={ "0 0 " (width) " " (height) }
                width=[self.fixed.then_some(&width)] role="img" {
                title { (self.title) }
                @for element in &self.drawn { (element) }
            }
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn charts_have_frames_axes_and_titles() {
        let mut chart = Chart::wide("course", "a & b", Plot::wide(10.0, 50.0), 30.0);
        let layout = Below { across: true, end: 4.0, figures: 18.0, name: 32.0 };
        let x = chart.plot().across((0.0, 10.0), 0.0);
        chart.axis_below(&layout, &x, 2, "<s>");
        let drawn = chart.render().into_string();
        assert!(drawn.starts_with(
            "<div class=\"frame\"><svg class=\"course\" viewBox=\"0 0 1080 90\" role=\"img\">\
             <title>a &amp; b</title>"
        ));
        assert_eq!(drawn.matches("<line class=\"tick\"").count(), 3);
        assert!(drawn.contains("<text class=\"tick-name\" x=\"564\" y=\"92\">&lt;s&gt;</text>"));
        assert!(drawn.ends_with("</svg></div>"));
    }
}
