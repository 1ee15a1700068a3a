//! `dryturn camera sensor`: pairs of raw pictures.

use std::io::Cursor;
use std::path::Path;

use dryturn_metrology::block;
use dryturn_metrology::sensor::{Pair, RawPicture, SensorFit, SensorMeter, pair_list};
use dryturn_record::documents::{MeasuredPart, SensorRecord};
use dryturn_scene::file::Mosaic;
use image::{DynamicImage, ImageFormat, ImageReader, Limits};

use crate::commands::camera::{Drawn, Measured, SensorArgs};
use crate::failure::Failure;
use crate::input;

/// Largest picture file, and most memory that decoding one may take.
const MAX_RAW_BYTES: u64 = 128 << 20;

pub(crate) fn measure(args: &SensorArgs, drawn: &Drawn) -> Result<Measured, Failure> {
    let text = input::text(&args.pairs)?;
    let shown = args.pairs.display();
    let fault = |error: &dyn core::fmt::Display| Failure::input(format!("{shown}: {error}"));
    let rows = pair_list(&text).map_err(|error| fault(&error))?;
    let folder = args.pairs.parent().unwrap_or(Path::new(""));
    let camera = drawn.camera();
    let mosaic = camera.mosaic != Mosaic::None;
    let lights: Vec<f64> = rows.iter().map(|row| row.light_ratio).collect();
    let mut meter = SensorMeter::new(&lights, args.bits, mosaic).map_err(|error| fault(&error))?;
    for row in &rows {
        let [first, second] = &row.files;
        let pictures = [raw(&folder.join(first))?, raw(&folder.join(second))?];
        let pair = Pair { light_ratio: row.light_ratio, pictures };
        meter.add(&pair).map_err(|error| fault(&error))?;
    }
    let fit = meter.fit().map_err(|error| fault(&error))?;
    let summary = format!(
        "Sensor measured from {} pairs of raw pictures of {} bits ({}), by photon transfer as in \
         EMVA 1288; ± is one standard error. It holds for the gain setting of the pictures.",
        rows.len(),
        args.bits,
        if mosaic { "four colour planes" } else { "no mosaic" }
    );
    let lines: Vec<String> = [summary].into_iter().chain(figures(&fit)).collect();
    Ok(Measured {
        camera: block::with_sensor(camera, &fit),
        notes: lines.clone(),
        lines,
        warnings: fit.warnings.clone(),
        objection: None,
        part: MeasuredPart::Sensor(SensorRecord::of(&fit)),
    })
}

/// A grey PNG of 8 or 16 bits.
fn raw(path: &Path) -> Result<RawPicture, Failure> {
    let name = path.display().to_string();
    let fault = |what: &str| Failure::input(format!("{name}: {what}"));
    let bytes = dryturn_console::bytes(path, MAX_RAW_BYTES).map_err(Failure::input)?;
    match image::guess_format(&bytes) {
        Ok(ImageFormat::Png) => {}
        Ok(ImageFormat::Jpeg) => {
            return Err(fault(
                "a JPEG picture: its compression takes the noise away; raw codes as a grey PNG are \
                 needed",
            ));
        }
        _ => return Err(fault("no PNG picture: raw codes as a grey PNG are needed")),
    }
    // A PNG that says so (chunk sRGB, before the pixels) has no linear codes.
    let head = bytes.windows(4).position(|chunk| chunk == b"IDAT").unwrap_or(0);
    if bytes[..head].windows(4).any(|chunk| chunk == b"sRGB") {
        return Err(fault("is marked as sRGB: raw, linear codes are needed"));
    }
    let mut reader = ImageReader::with_format(Cursor::new(&bytes), ImageFormat::Png);
    let mut limits = Limits::default();
    limits.max_alloc = Some(2 * MAX_RAW_BYTES);
    reader.limits(limits);
    let picture = reader.decode().map_err(|error| {
        fault(&format!("the picture cannot be read: {}", error.to_string().replace('\n', " ")))
    })?;
    let (width, height) = (picture.width() as usize, picture.height() as usize);
    let codes = match picture {
        DynamicImage::ImageLuma8(grey) => grey.into_raw().into_iter().map(u16::from).collect(),
        DynamicImage::ImageLuma16(grey) => grey.into_raw(),
        _ => {
            return Err(fault(
                "a colour picture: raw codes before any colour is made of them are needed, as a \
                 grey PNG",
            ));
        }
    };
    Ok(RawPicture { name, width, height, codes })
}

fn figures(fit: &SensorFit) -> Vec<String> {
    let mut lines = vec![
        format!(
            "gain {:.4} ± {:.4} electrons per code ({:.5} codes per electron)",
            fit.e_per_code.0, fit.e_per_code.1, fit.codes_per_e.0
        ),
        match fit.dark_noise_e {
            Some((value, error)) => format!("dark noise {value:.3} ± {error:.3} electrons"),
            None => "dark noise hidden by the converter's steps".to_owned(),
        },
        format!("black level: code {:.2}", fit.black_code),
        format!(
            "{:.0} electrons at {}",
            fit.full_well_e,
            if fit.saturation_seen { "saturation" } else { "full scale; saturation was not seen" }
        ),
    ];
    lines.push(match fit.linearity_share {
        Some([most, mean]) => format!(
            "linearity error {:.2} % at most, {:.2} % in the mean",
            100.0 * most,
            100.0 * mean
        ),
        None => "linearity error: fewer than 4 levels from 5 to 95 % of saturation".to_owned(),
    });
    lines
}
