//! What anybody who goes on to real hardware must know.

/// Common practice, no source; local codes and licensed practice go first.
pub const CAUTIONS: [&str; 7] = [
    "A simulated run does not clear hardware to run. The model leaves out more than it holds.",
    "A breaking coupler throws fragments: run behind an enclosure, with eye protection, hair and \
     hands clear.",
    "Motors can start unexpectedly. Fit an emergency stop, and take the power away before you \
     reach in.",
    "Bus capacitors stay charged after power-off: discharge them, then measure.",
    "A brake resistor gets hot enough to burn skin and ignite plastic: metal mount, clearance, \
     thermal cut-out.",
    "Fuse the supply, and size wires and connectors for the fault current. Commission at low \
     current and voltage.",
    "Follow your local codes. Work on mains or battery packs is for licensed persons.",
];
