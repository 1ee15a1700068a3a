//! From the start button to the last stop: the clock that counts.

use dryturn_handoff::Reading;
use dryturn_scene::Scene;
use dryturn_scene::file::{Camera, Host};

/// Where the time goes, s. All but the execution is modelled from the scene's figures.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StartToStop {
    /// The longest exposure, of both pictures where a camera takes two, and its wait for its start
    /// before; cameras expose together.
    pub exposure_s: f64,
    /// Reading out the rows of rolling shutters, of each picture.
    pub read_out_s: f64,
    /// The way to the host of the most that one camera takes.
    pub transfer_s: f64,
    /// Making a cube out of the pictures: sampling them, and the steps that it took.
    pub reading_s: f64,
    /// Searching the plan.
    pub search_s: f64,
    /// Turning it.
    pub execution_s: f64,
}

/// What an answer of a guest costs on the rig's clock.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct GuestCost {
    /// Whatever it was asked, ms.
    pub latency_ms: f64,
    /// Steps or nodes that it reports, on top.
    pub operations: u64,
}

impl GuestCost {
    fn seconds(self, operations_per_ms: f64) -> f64 {
        1e-3 * (self.latency_ms + self.operations as f64 / operations_per_ms)
    }
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
        let pictures = |camera: &Camera| if camera.takes_two() { 2.0 } else { 1.0 };
        let open_ms = |camera: &Camera| {
            let second = if camera.takes_two() { camera.bracket_share } else { 0.0 };
            camera.start_ms + camera.exposure_ms * (1.0 + second)
        };
        let bytes = |camera: &Camera| {
            pictures(camera) * f64::from(camera.width_px) * f64::from(camera.height_px)
        };
        Self {
            exposure_s: 1e-3 * most(&open_ms),
            read_out_s: 1e-3 * most(&|camera| pictures(camera) * camera.read_out_ms()),
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

    /// The same, where a guest read: the cost of its answer, a step as much as one of the built-in
    /// reader's, and nothing of what that one takes.
    #[must_use]
    pub fn read_by_guest(self, scene: &Scene, cost: GuestCost) -> Self {
        Self { reading_s: cost.seconds(scene.file().host.reading_steps_per_ms), ..self }
    }

    /// The same, where a guest planned: an operation costs as much as a node of the built-in
    /// planner's search.
    #[must_use]
    pub fn planned_by_guest(self, scene: &Scene, cost: GuestCost) -> Self {
        Self { search_s: cost.seconds(scene.file().host.search_nodes_per_ms), ..self }
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
pub fn reading_ms(host: &Host, steps: u64) -> f64 {
    host.reading_ms + steps as f64 / host.reading_steps_per_ms
}
