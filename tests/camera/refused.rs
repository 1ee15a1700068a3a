//! What `camera` refuses: code 2, one line, nothing written.

use dryturn_metrology::mount::cube_corners;

use super::raw_pictures;
use crate::help;

/// Calls `camera PART` on what stands in a folder; the message must hold all of `parts`.
fn refused(at: &std::path::Path, name: &str, arguments: &[&str], parts: &[&str]) {
    let call = help::call(at, &[&["camera"], arguments, &["--out", "never"]].concat());
    assert_eq!(call.code, 2, "{name}: {}\n{}", call.stdout, call.stderr);
    assert_eq!(call.stderr.lines().count(), 1, "{name}: {}", call.stderr);
    for part in parts {
        assert!(call.stderr.contains(part), "{name} does not say {part:?}: {}", call.stderr);
    }
    assert!(!call.stderr.contains("our fault") && !at.join("never").exists(), "{name}");
}

#[test]
fn pictures_without_a_board() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    std::fs::write(at.join("w.ron"), help::read("scenes/workbench.ron")).unwrap();
    let picture = |name: &str, width, height, grey| {
        image::RgbImage::from_pixel(width, height, image::Rgb([grey; 3]))
            .save(at.join(name))
            .unwrap();
    };
    picture("a.png", 640, 480, 90);
    picture("b.png", 640, 480, 91);
    picture("small.png", 320, 240, 90);
    std::fs::write(at.join("text.png"), "no picture").unwrap();
    let lens = |name: &str, camera: &str, board: [&str; 2], pictures: &[&str], parts: &[&str]| {
        let [corners, pitch] = board;
        let first = ["lens", "--scene", "w.ron", "--camera", camera, "--corners", corners];
        let arguments = [&first[..], &["--pitch-mm", pitch], pictures].concat();
        refused(at, name, &arguments, parts);
    };
    let (board, three) = (["9x6", "10"], ["a.png", "b.png", "a.png"]);
    lens("no board", "high", board, &three, &["a.png: the board of 9 × 6", "no chessboard"]);
    lens("two pictures", "high", board, &three[..2], &["2 pictures: must be 3 to 100"]);
    lens("no such camera", "left", board, &three, &["no camera \"left\"", "high or low"]);
    lens("a small board", "high", ["2x6", "10"], &three, &["2 × 6 inner corners", "3 to 60"]);
    lens("no board at all", "high", ["nine", "10"], &three, &["nine", "COLUMNSxROWS"]);
    lens("a pitch of nothing", "high", ["9x6", "0"], &three, &["pitch of 0 mm", "0.1 to 1000"]);
    let small = ["small.png"; 3];
    lens("another size", "high", board, &small, &["320 × 240", "must be 640 × 480"]);
    lens("no picture", "high", board, &["text.png"; 3], &["text.png: neither a PNG nor a JPEG"]);
    lens("no file", "high", board, &["none.png"; 3], &["none.png"]);
    refused(at, "nothing to measure", &[], &["requires a subcommand", "lens, mount, sensor"]);
}

#[test]
fn points_that_decide_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    std::fs::write(at.join("w.ron"), help::read("scenes/workbench.ron")).unwrap();
    let view = help::scene("workbench").views()[0];
    let row = |name: &str| {
        let corner = cube_corners(56.0).find(|(known, _)| *known == name).unwrap().1;
        let pixel = view.project(corner).unwrap();
        format!("{name},{},{}\n", pixel.x, pixel.y)
    };
    let mount = |name: &str, csv: String, parts: &[&str]| {
        std::fs::write(at.join("p.csv"), csv).unwrap();
        let parts = [parts, &["p.csv: "]].concat();
        refused(at, name, &["mount", "--scene", "w.ron", "--camera", "high", "p.csv"], &parts);
    };
    let head = "point,column_px,row_px\n".to_owned();
    let three = [head, row("URF"), row("UFL"), row("UBR")].concat();
    mount("three points", three.clone(), &["3 points: must be at least 4"]);
    mount("a point that is none", three.clone() + "UR,1,2\n", &["line 5: point is \"UR\"", "URF"]);
    mount("a click outside", three.clone() + "DFR,640,2\n", &["column_px is \"640\"", "639.5"]);
    mount("a point twice", [three, row("URF")].concat(), &["line 5: point URF", "line 2"]);
    mount("no header", row("URF"), &["line 1 is", "must be point,column_px,row_px"]);
    mount("empty", String::new(), &["line 1 is \"\""]);
    let line: String = (0..4).map(|k| format!("{},0,0,{},240\n", 10 * k, 320 + 9 * k)).collect();
    let head = "x_mm,y_mm,z_mm,column_px,row_px\n".to_owned();
    mount("points in a line", [head, line].concat(), &["in one line"]);
    let bad = ["mount", "--scene", "w.ron", "--camera", "high", "--click-px", "0", "p.csv"];
    refused(at, "clicks without error", &bad, &["0.01 to 100"]);
}

#[test]
fn pictures_that_are_not_raw() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    raw_pictures(at);
    let good = std::fs::read_to_string(at.join("pairs.csv")).unwrap();
    let sensor = |name: &str, bits: &str, list: &str, parts: &[&str]| {
        std::fs::write(at.join("list.csv"), list).unwrap();
        let first = ["sensor", "--scene", "w.ron", "--camera", "high", "--bits", bits];
        refused(at, name, &[&first[..], &["list.csv"]].concat(), parts);
    };
    let replaced = |from: &str, to: &str| {
        assert!(good.contains(from), "{from}");
        good.replacen(from, to, 1)
    };
    let flat = "flat-3-1.png";
    sensor("one of a pair", "12", &replaced(",flat-3-1.png", ""), &["line 5: 1 pictures"]);
    let twice = replaced(flat, "flat-3-0.png");
    sensor("one picture twice", "12", &twice, &["line 5: flat-3-0.png stands there twice"]);
    std::fs::copy(at.join("flat-3-0.png"), at.join("copy.png")).unwrap();
    let parts = ["copy.png: the same codes as", "flat-3-0.png"];
    sensor("a copy", "12", &replaced(flat, "copy.png"), &parts);
    image::RgbImage::new(128, 96).save(at.join("colour.png")).unwrap();
    let colour = replaced(flat, "colour.png");
    sensor("a developed picture", "12", &colour, &["colour.png: a colour picture"]);
    image::GrayImage::new(128, 96).save(at.join("grey.jpg")).unwrap();
    let jpeg = replaced(flat, "grey.jpg");
    sensor("a JPEG", "12", &jpeg, &["grey.jpg: a JPEG picture", "compression"]);
    image::GrayImage::new(64, 96).save(at.join("narrow.png")).unwrap();
    let narrow = replaced(flat, "narrow.png");
    sensor("another size", "12", &narrow, &["narrow.png: 64 × 96", "128 × 96"]);
    let dark = replaced("0,flat-0-0.png,flat-0-1.png\n", "");
    sensor("no dark pair", "12", &dark, &["no pair of dark pictures"]);
    sensor("codes above the bits", "10", &good, &["must be at most 1023", "10 bits"]);
    sensor("bits that are none", "17", &good, &["17", "8..=16"]);
    let lamp_off =
        replaced("6,flat-3-0.png", "0,flat-3-0.png").replacen("0,flat-0-0", "6,flat-0-0", 1);
    let lamp_off =
        lamp_off.replacen("0,flat-3-0.png,flat-3-1.png\n", "0,flat-1-0.png,flat-1-1.png\n", 1);
    let lamp_off = lamp_off.replacen("2,flat-1-0.png,flat-1-1.png\n", "", 1);
    sensor("no light", "12", &lamp_off, &["flat-0-0.png: mean code", "no lighter"]);
    let all = good.lines().take(2).chain(good.lines().skip(11)).collect::<Vec<_>>().join("\n");
    sensor("too few levels", "12", &all, &["light levels"]);
    sensor("a list of nothing", "12", "", &["list.csv: line 1 is \"\""]);
}

/// The scene's own field for what the lens comes to.
#[test]
fn an_optical_centre_out_of_range() {
    let folder = tempfile::tempdir().unwrap();
    let text = help::read("scenes/workbench.ron");
    let broken =
        text.replacen("name: \"high\",", "name: \"high\", optical_centre_px: (0, 3000),", 1);
    std::fs::write(folder.path().join("w.ron"), broken).unwrap();
    let call = help::call(folder.path(), &["check", "w.ron"]);
    assert_eq!(call.code, 2, "{}", call.stderr);
    for part in ["cameras[0].optical_centre_px[1]", "is 3000", "-2000.0 to 2000.0"] {
        assert!(call.stderr.contains(part), "{part}: {}", call.stderr);
    }
}
