//! How a scene's lights fall on the cube at rest.

use dryturn_cube::Facelet;

use super::Scene;
use crate::light::{Fallen, OnFace, illuminance_lux};

impl Scene {
    /// Where a point of a solid's flat face lies, by number of solid and face as in
    /// [`Hits`](dryturn_geometry::Hits); `None` if that is no outer face of the cube.
    #[must_use]
    #[inline]
    pub fn on_face(&self, surface: (u32, u32), point_mm: [f32; 3]) -> Option<OnFace> {
        self.shading().place(surface, point_mm)
    }

    /// How the room's light, even from all sides, falls on a point of a face at rest past
    /// shafts, motors and fixtures; the share within 0.02. `None` where it is no smooth
    /// function, as at the foot of a shaft.
    #[must_use]
    #[inline]
    pub fn room_on(&self, place: OnFace) -> Option<Fallen> {
        self.shading().room(self.rig(), place)
    }

    /// The same for lamp number `lamp`. `None` also at the edges of its shadows.
    ///
    /// # Panics
    /// If there is no such lamp.
    #[must_use]
    #[inline]
    pub fn lamp_on(&self, lamp: usize, place: OnFace) -> Option<Fallen> {
        self.shading().lamp(self.rig(), (lamp, &self.file().lamps[lamp]), place)
    }

    /// Illuminance of a facelet at rest by the drawing, lx: the mean over its coloured part, of
    /// each lamp and then of the room, within some per cent. What other faces throw back is not in
    /// it.
    #[must_use]
    pub fn illuminance_lux(&self, facelet: Facelet) -> Vec<f64> {
        illuminance_lux(self.rig(), self.file(), facelet)
    }
}
