//! From the start button to the last stop: the clock that counts.

use dryturn_handoff::Reading;
use dryturn_scene::Scene;
use dryturn_scene::file::{Camera, Host, Shutter};

/// Where the time goes, s. All but the execution is modelled from the scene's figures.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StartToStop {
    /// The longest exposure; cameras expose together.
    pub exposure_s: f64,
    /// Reading out the rows of a rolling shutter.
    pub read_out_s: f64,
    /// The largest picture's way to the host.
    pub transfer_s: f64,
    /// Making a cube out of the pictures: sampling them, and the steps that it took.
    pub reading_s: f64,
    /// Searching the plan.
    pub search_s: f64,
    /// Turning it.
    pub execution_s: f64,
}

impl StartToStop {
    /// Of a scene whose plan takes `execution_s`, searched with as many nodes as the host
    /// allows itself, of a cube that is read in plain light.
    #[must_use]
    pub fn of(scene: &Scene, execution_s: f64) -> Self {
        Self::searched(scene, u64::from(scene.file().host.search_nodes), execution_s)
    }

    /// The same, where the search took so many nodes.
    #[must_use]
    pub fn searched(scene: &Scene, nodes: u64, execution_s: f64) -> Self {
        let file = scene.file();
        let most = |of: &dyn Fn(&Camera) -> f64| file.cameras.iter().map(of).fold(0.0, f64::max);
        let rows_s = |camera: &Camera| match camera.shutter {
            Shutter::Rolling => camera.row_start_s(camera.height_px.saturating_sub(1) as usize),
            Shutter::Global => 0.0,
        };
        let bytes = |camera: &Camera| f64::from(camera.width_px) * f64::from(camera.height_px);
        Self {
            exposure_s: most(&|camera| camera.exposure_ms * 1e-3),
            read_out_s: most(&rows_s),
            transfer_s: most(&bytes) / (file.host.transfer_mb_per_s * 1e6),
            reading_s: 1e-3 * reading_ms(&file.host, Reading::USUAL_STEPS),
            search_s: nodes as f64 / file.host.search_nodes_per_ms * 1e-3,
            execution_s,
        }
    }

    /// The same, where the reading took so many steps.
    #[must_use]
    pub fn read_in(self, scene: &Scene, steps: u64) -> Self {
        Self { reading_s: 1e-3 * reading_ms(&scene.file().host, steps), ..self }
    }

    /// Names and seconds, in order.
    #[must_use]
    pub fn parts(&self) -> [(&'static str, f64); 6] {
        [
            ("exposure", self.exposure_s),
            ("read-out", self.read_out_s),
            ("transfer", self.transfer_s),
            ("reading", self.reading_s),
            ("search", self.search_s),
            ("execution", self.execution_s),
        ]
    }

    /// The whole, s.
    #[must_use]
    pub fn total_s(&self) -> f64 {
        self.parts().iter().map(|(_, seconds)| seconds).sum()
    }
}

/// Time for a reading of so many steps, ms.
pub(crate) fn reading_ms(host: &Host, steps: u64) -> f64 {
    host.reading_ms + steps as f64 / host.reading_steps_per_ms
}
