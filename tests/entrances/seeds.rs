//! Files in order, few and small, of each kind: what changed ones are made of. Most are the
//! repository's own, or what the program writes.

mod documents;
mod logs;
mod pictures;

use dryturn_metrology::mount::cube_corners;
use dryturn_scene::STARTER;

pub(super) use documents::{calibration, document, ledger};
pub(super) use logs::{axis_log, run_log};
pub(super) use pictures::{picture, raw_picture};

use super::bodies::{PIGMENTS, POWER, SENSOR};
use crate::help;

pub(super) type Seeds = Vec<Vec<u8>>;

fn texts<T: Into<String>>(texts: impl IntoIterator<Item = T>) -> Seeds {
    let bytes = |text: T| {
        let text: String = text.into();
        text.into_bytes()
    };
    texts.into_iter().map(bytes).collect()
}

fn files(folder: &str, extension: &str) -> impl Iterator<Item = String> {
    help::files(folder, extension).into_iter().map(help::read)
}

pub(super) fn scene() -> Seeds {
    let workbench = help::read("scenes/workbench.ron");
    let tables = workbench
        .replacen("colours: (),", "colours: (), pigments_csv: \"pigments.csv\",", 1)
        .replacen("name: \"high\",", "name: \"high\", sensor_csv: \"sensor.csv\",", 1)
        .replacen("spectrum: Daylight,", "spectrum: Measured, spectrum_csv: \"power.csv\",", 1);
    let every = workbench.replacen(
        "    fixtures: [",
        "    every_shaft: (section: Hexagon, width_mm: 7.5, backlash_deg: 0.2),\n    fixtures: [",
        1,
    );
    let references = ["tests/reference/rig_frame.ron", "tests/reference/foreign/foreign.ron"];
    let whole = help::scene("foyer_evening").to_ron();
    let own = [STARTER.to_owned(), tables, every, whole];
    texts(files("scenes", "ron").chain(references.map(help::read)).chain(own))
}

pub(super) fn setting() -> Seeds {
    texts([
        "drive.bus_voltage_v=36",
        "drive.preset=WindingLine",
        "drive.encoder_bits=12",
        "cube.mass_g=x2",
        "cube.mass_g=None",
        "cube.facelet_edge_mm=15.5",
        "drive.friction_torque_n_m=0.1..0.2",
        "cube.tension=Loose",
        "shafts.*.width_mm=6..10",
        "shafts.U.section=Round",
        "lamps.*.flux_lm=x0.5..x1.5",
        "lamps.panel.spectrum=LedB1,LedB3",
        "lamps.panel.aim_mm=[0,300,0],[0,0,50]",
        "cameras.*.samples_px=x4",
        "cameras.0.position_mm.1+cameras.low.position_mm.1=140",
        "cameras.low.name=other",
        "fixtures.card.role=Bracket",
        "handover.policy=Settle,Release,Predict",
        "handover.clearance_margin_deg=-8..0.6",
        "reader.find_mounts=false",
        "surroundings.ambient_spectrum_csv=../a.csv,../b.csv",
        "tolerances.mount_turn_sigma_deg=1e-3",
        "link.command_latency_ms=2.5",
    ])
}

pub(super) fn script() -> Seeds {
    let small = [
        "let c = cube_after(\"R U R' U'\"); expect_at_most(textbook_plan(c).turns, 40, \"short\");",
        "let f = scene(\"a.ron\"); let p = plan_of(\"R U'\"); let r = build(f);\n\
         let run = r.execute(solved(), p); note(run); show_run(run, \"run\");",
        "let a = [3, 1, 2]; a.sort(); note(a.map(|x| `${x}`)); for k in 0..3 { a.push(k); }",
        "fn own(x) { if x > 3 { x } else { own(x + 1) } } note(own(1));",
        "try { scene(\"none\"); } catch (e) { note(e); } let m = #{a: 1, b: [2]}; note(m.to_json());",
        "save_text(\"a.txt\", \"b\"); expect(setting(\"n\", 3) == 3, \"as it is\"); /* a /* b */ c */",
    ];
    texts(files("scripts", "rhai").chain(small.map(str::to_owned)))
}

pub(super) fn curves() -> Seeds {
    let remarks = "# made up\nnm , power\n\n380,0\n 420, 1e-3\n560,12.5 \n700,3\n";
    texts([POWER, SENSOR, PIGMENTS, remarks])
}

pub(super) fn points() -> Seeds {
    let scene = help::scene("workbench");
    // As the picture has them where the points are read for.
    let mut file = scene.file().clone();
    file.cameras[0] = file.cameras[0].with_pixels([320, 240]);
    let scene = scene.with_file(file).unwrap();
    let (mut named, mut measured) = (
        String::from("point,column_px,row_px\n"),
        String::from("x_mm,y_mm,z_mm,column_px,row_px\n"),
    );
    for (name, at) in cube_corners(scene.file().cube.edge_mm) {
        let pixel = scene.views()[0].project(at).unwrap();
        named += &format!("{name},{:.2},{:.2}\n", pixel.x, pixel.y);
        measured += &format!("{},{},{},{:.1},{:.1}\n", at.x, at.y, at.z, pixel.x, pixel.y);
    }
    texts([named, measured])
}

pub(super) fn pairs() -> Seeds {
    texts([
        "light_ratio,first,second\n0,dark-a.png,dark-b.png\n1,a.png,b.png\n2.5,c.png,d.png\n",
        "# exposure, ms\nlight_ratio , first , second\n\n0,a,b\n1e3,c,d\n",
    ])
}

const SOLVED: &str = "U=UUU/UUU/UUU R=RRR/RRR/RRR F=FFF/FFF/FFF D=DDD/DDD/DDD L=LLL/LLL/LLL \
                      B=BBB/BBB/BBB";
const TURNS: &str = "R U2 F' D L B2 R' U D2 F";

pub(super) fn cube() -> Seeds {
    let state = dryturn_cube::CubeState::SOLVED;
    let turned = state.turned_by(&dryturn_cube::notation::parse(TURNS).unwrap());
    let faces = dryturn_cube::net::write_faces(&turned.colours());
    let files = [format!("(faces: {SOLVED:?})"), format!("(turns: Some({TURNS:?}))")];
    texts([SOLVED.to_owned(), faces, TURNS.to_owned()].into_iter().chain(files))
}

pub(super) fn notation() -> Seeds {
    texts([TURNS, "U U' # one\n\nR2 L2\n# two\nF B' D\u{2019}\n", "R"])
}

pub(super) fn known_cubes() -> Seeds {
    let known =
        format!("cube,high,low\nU U',a.png,b.png\n{SOLVED},c.png,d.png\n\"R U\",e.png,f.png\n");
    let patches = "picture,column_px,row_px,width_px,height_px,colour,facelet\n\
                   a.png,3,4,6,6,white,URF\na.png,30,4,6,6,red,\n b.png , 0,0,1,1,U,UF\n";
    texts([known, patches.to_owned()])
}

/// Rows by hand, without checksums, which the body puts there: one beat after the other, and one
/// that begins before the face beside it is at its end.
pub(super) fn rig_plan() -> Seeds {
    const COLUMNS: &str = "row,beat,face,quarters,to_deg,start_when,settled_within_deg,\
                           settled_for_ms,time_out_ms,start_ms,duration_ms,ceiling_share,safe";
    const SETTLED: &str = "U settled & R settled & F settled & D settled & L settled & B settled";
    let plan = |rows: &[(&str, &str, &str)]| {
        let state = "0123456789abcdef".repeat(4);
        let mut text = format!("# dryturn rig plan 2\n# by hand\n# state {state}\n{COLUMNS}\n");
        for (place, (what, when, times)) in rows.iter().enumerate() {
            let number = place + 1;
            text += &format!("{number},{what},{when},0.500,2.000,1500.000,{times},0.2500,yes\n");
        }
        text
    };
    texts([
        plan(&[
            ("1,R,1,90.000", SETTLED, "0.000,85.125"),
            ("2,U,-1,-90.000", SETTLED, "90.500,85.125"),
            ("3,end,0,0.000", SETTLED, "180.000,0.000"),
        ]),
        plan(&[
            ("1,R,2,180.000", SETTLED, "0.000,120.000"),
            ("1,L,1,90.250", SETTLED, "0.000,85.000"),
            ("2,F,-1,-89.750", "R above 120.500 & L above 45.000", "100.000,85.000"),
            ("3,U,1,90.000", "F below -60.000 & R settled", "170.000,85.000"),
            ("4,end,0,0.000", SETTLED, "-1.000,0.000"),
        ]),
    ])
}
