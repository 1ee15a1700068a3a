//! The supply: its voltage, its chopper, its power, and heat.

use dryturn_driving::Machine;
use dryturn_scene::file::SceneFile;

use crate::findings::{Finding, FindingKind as Kind};

pub(super) fn over_voltage(file: &SceneFile) -> Option<Finding> {
    let (bus_v, over_v) = (file.drive.bus_voltage_v, file.supply.over_voltage_v);
    let chopper_v = bus_v + file.supply.chopper_above_v;
    if over_v <= bus_v {
        return Some(
            Finding::wrong(Kind::OverVoltageBelowBus, "supply.over_voltage_v")
                .figure("over_voltage_v", over_v)
                .figure("bus_voltage_v", bus_v)
                .says(
                    format!("the drives let go above {over_v} V, and the supply has {bus_v} V"),
                    format!("set it above {chopper_v} V, where the chopper starts"),
                ),
        );
    }
    (chopper_v >= over_v).then(|| {
        Finding::wrong(Kind::ChopperTooLate, "supply.chopper_above_v")
            .figure("chopper_v", chopper_v)
            .figure("over_voltage_v", over_v)
            .says(
                format!("the chopper starts at {chopper_v} V, and the drives let go at {over_v} V"),
                format!("keep it below {:.1} V above the supply", over_v - bus_v),
            )
    })
}

pub(super) fn chopper_off(file: &SceneFile) -> Option<Finding> {
    let supply = &file.supply;
    (supply.chopper_hysteresis_v >= supply.chopper_above_v).then(|| {
        let off_v = file.drive.bus_voltage_v + supply.chopper_above_v - supply.chopper_hysteresis_v;
        Finding::wrong(Kind::ChopperNeverOff, "supply.chopper_hysteresis_v")
            .figure("chopper_off_v", off_v)
            .figure("bus_voltage_v", file.drive.bus_voltage_v)
            .says(
                format!(
                    "it stops below {off_v} V only, and the supply holds {} V",
                    file.drive.bus_voltage_v
                ),
                format!("keep it below chopper_above_v, {} V", supply.chopper_above_v),
            )
    })
}

pub(super) fn supply(file: &SceneFile, machine: &Machine) -> Option<Finding> {
    let planned = &machine.axis().planned;
    let current_a = planned.current_limit_a;
    let mechanical_w = planned.torque_n_m() * machine.highest_speed_rad_s();
    let copper_w = planned.resistance_ohm * current_a * current_a;
    // The winding cannot take more than the bus gives it.
    let axis_w = (mechanical_w + copper_w).min(planned.voltage_v * current_a);
    let supply_w = file.supply.source_current_limit_a * file.drive.bus_voltage_v;
    (axis_w > supply_w).then(|| {
        Finding::wrong(Kind::SupplyWeak, "supply.source_current_limit_a")
            .figure("axis_w", axis_w)
            .figure("supply_w", supply_w)
            .says(
                format!("one axis takes up to {axis_w:.0} W, and the supply gives {supply_w:.0} W"),
                format!("two axes at once want {:.0} A", 2.0 * axis_w / file.drive.bus_voltage_v),
            )
    })
}

pub(super) fn heat(file: &SceneFile) -> Option<Finding> {
    let ambient_c = file.supply.ambient_c;
    let limits = [
        ("drive.winding_limit_c", file.drive.winding_limit_c),
        ("supply.resistor_limit_c", file.supply.resistor_limit_c),
    ];
    let (field, limit_c) = limits.into_iter().find(|limit| limit.1 <= ambient_c + 5.0)?;
    Some(
        Finding::wrong(Kind::HeatLimitBelowAmbient, field)
            .figure("limit_c", limit_c)
            .figure("ambient_c", ambient_c)
            .says(
                format!("the limit is {limit_c} °C, and all starts at {ambient_c} °C"),
                "give the limit of the winding's insulation, or of the resistor",
            ),
    )
}
