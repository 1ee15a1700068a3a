//! The blocks of the supply and of the computer that runs it all.

block! {
    /// The supply that all axes share. It cannot take power back: what braking returns
    /// pumps up the capacitor until the chopper burns it in the brake resistor.
    Supply {
        source_resistance_ohm: f64 = 0.2, 0.01..=10.0, "Of the supply and its wires.";
        source_current_limit_a: f64 = 15.0, 0.1..=200.0, "The supply's own limit.";
        capacitance_uf: f64 = 1000.0, 50.0..=1000000.0, "Of all bus capacitors together.";
        chopper_above_v: f64 = 2.0, 0.1..=60.0, "The chopper switches on so far above the supply voltage.";
        chopper_hysteresis_v: f64 = 1.0, 0.01..=60.0, "And off so far below that.";
        brake_resistor_ohm: f64 = 3.0, 0.1..=1000.0, "The brake resistor.";
        resistor_heat_capacity_j_per_k: f64 = 20.0, 0.1..=10000.0, "Heat that warms it by a kelvin.";
        resistor_cooling_s: f64 = 60.0, 1.0..=100000.0, "Time constant of its cooling.";
        resistor_limit_c: f64 = 150.0, 30.0..=1000.0, "Hotter than this, its thermal cut-out opens.";
        over_voltage_v: f64 = 65.0, 10.0..=100.0, "Above this the drives let go.";
        under_voltage_share: f64 = 0.5, 0.0..=0.95, "Below this share of the supply voltage they let go.";
        ambient_c: f64 = 25.0, -20.0..=60.0, "Temperature at the start of all that heats up.";
    }
}

block! {
    /// The computer between cameras and axes: what passes between the start button and
    /// the first command. Assumed figures of a small board; measure your own.
    Host {
        transfer_mb_per_s: f64 = 350.0, 0.1..=100000.0, "Picture data from a camera to the host, one byte a pixel; cameras transfer at the same time.";
        reading_ms: f64 = 35.0, 0.0..=100000.0, "Finding where the cameras stand and sampling their pictures; about 35 were measured for two of 640 by 480 pixels on one core.";
        reading_steps_per_ms: f64 = 450.0, 1.0..=10000000.0, "Steps of making a cube of the samples, of which a reading counts how many it took: 10,000 in plain light, ten times as many where everything has to be tried; 270 to 480 were measured on one core.";
        search_nodes_per_ms: f64 = 3000.0, 1.0..=10000000.0, "Nodes of the plan's search; about 3000 were measured on one core.";
        search_nodes: u32 = 100000, 1..=1000000000, "Nodes that a plan is searched with.";
    }
}

all_default!(Supply, Host);
