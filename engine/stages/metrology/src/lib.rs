//! What a real rig is, from a builder's own pictures and logs. A camera: its lens from pictures of a
//! chessboard ([`lens`]), its place from clicked corners of the cube ([`mount`]), its
//! sensor from pairs of flat and dark pictures ([`sensor`]). Each can be put into the
//! scene's camera, which [`block`] writes for pasting into the scene file. A motor axis, from
//! logs of its moves, likewise: [`motor`].
//!
//! Everything is measured with its standard error; what the pictures do not determine is
//! left out, and said so.
//!
//! ```
//! use dryturn_metrology::mount::{clicked_points, fit_mount};
//! use dryturn_scene::Scene;
//!
//! let text = std::fs::read_to_string("../../../scenes/workbench.ron").unwrap();
//! let scene = Scene::parse(&text, "workbench.ron").unwrap();
//! let (file, view) = (scene.file(), &scene.views()[0]);
//! // Corners just where the drawing has them.
//! let mut csv = String::from("point,column_px,row_px\n");
//! for (name, at) in dryturn_metrology::mount::cube_corners(file.cube.edge_mm) {
//!     let pixel = view.project(at).unwrap();
//!     csv += &format!("{name},{},{}\n", pixel.x, pixel.y);
//! }
//! let points = clicked_points(&csv, file.cube.edge_mm, [640, 480]).unwrap();
//! let mount = fit_mount(view, &points, 1.0).unwrap();
//! assert!(mount.shift_mm.length() < 1e-6 && mount.rms_px < 1e-6);
//! ```

pub mod block;
pub mod board;
mod columns;
pub mod lens;
pub mod motor;
pub mod mount;
pub mod sensor;
