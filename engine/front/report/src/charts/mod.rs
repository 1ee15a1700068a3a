//! Charts, each an SVG in a frame of its own. All stand on [`chart`], which knows plots, axes,
//! figures at ticks and legends, and on [`scale`].

pub(crate) mod chart;
pub(crate) mod histogram;
pub(crate) mod lanes;
pub(crate) mod net;
pub(crate) mod scale;
pub(crate) mod series;
pub(crate) mod stacked;
pub(crate) mod styles;
pub(crate) mod svg;
pub(crate) mod thinned;
pub(crate) mod time;
pub(crate) mod timing;
