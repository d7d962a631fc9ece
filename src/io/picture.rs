//! Picture files to pixels, and pixels to JPEG. The only file that knows the library of picture formats.
//!
//! In: paths or bytes. Out: upright pixels (turned as the file's EXIF data ask, as viewers do), or what is wrong with the
//! file. Memory is bounded: what a file would need is known from its head before it is decoded.

use std::fs::File;
use std::io::{Cursor, Read};
use std::path::Path;

use image::codecs::jpeg::JpegEncoder;
use image::error::LimitErrorKind;
use image::{DynamicImage, ExtendedColorType, ImageDecoder, ImageError, ImageFormat, ImageReader, Limits};

use super::disk::explain;
use crate::diag::{Kind, Remark, Remarks, Severity};
use crate::photo::Raster;

/// Picture files larger than this (bytes) are not read: cameras of 100 megapixels write less than half of it.
pub const LARGEST_PICTURE: u64 = 120_000_000;

/// Pictures of more pixels are not decoded.
const MOST_PIXELS: u64 = 100_000_000;

/// Longest side, pixels.
const LONGEST: u32 = 30_000;

/// What decoding may take for the picture itself, bytes: four for each of the most pixels.
const MOST_MEMORY: u64 = 4 * MOST_PIXELS;

const SAVE: &str = "open it in a picture program and save it anew as JPEG or PNG";

/// The bytes of a picture file.
///
/// # Errors
/// Says what the file system says, or that the file is too large.
pub fn picture_bytes(path: &Path) -> Result<Vec<u8>, Remarks> {
    let fail = |e: std::io::Error| Remarks::from(explain(path, &e));
    let file = File::open(path).map_err(fail)?;
    if file.metadata().map_err(fail)?.is_dir() {
        return Err(fail(std::io::Error::from(std::io::ErrorKind::IsADirectory)));
    }
    let mut bytes = Vec::new();
    file.take(LARGEST_PICTURE + 1).read_to_end(&mut bytes).map_err(fail)?;
    if bytes.len() as u64 > LARGEST_PICTURE {
        let given = format!("more than {} MB", LARGEST_PICTURE / 1_000_000);
        return Err(too_large(&path.display().to_string(), given).into());
    }
    Ok(bytes)
}

/// Width and height of a picture as viewers show it, pixels, from its head.
///
/// # Errors
/// Says that the picture is empty, of another format, too large or broken.
pub fn picture_size(name: &str, bytes: &[u8]) -> Result<(u32, u32), Remarks> {
    let mut decoder = decoder(name, bytes)?;
    let (w, h) = decoder.dimensions();
    // A picture whose extra data are broken is shown as it lies.
    let turned = decoder.orientation().is_ok_and(is_quarter);
    Ok(if turned { (h, w) } else { (w, h) })
}

/// The pixels of a picture as viewers show it; what is transparent becomes white.
///
/// # Errors
/// Says that the picture is empty, of another format, too large or broken.
pub fn read_picture(name: &str, bytes: &[u8]) -> Result<Raster, Remarks> {
    let mut decoder = decoder(name, bytes)?;
    let is_jpeg = image::guess_format(bytes).is_ok_and(|f| f == ImageFormat::Jpeg);
    if is_jpeg && !jpeg_is_whole(bytes) {
        // The decoder would fill what is missing with grey.
        return Err(broken(name, "a picture that breaks off: its end is missing").into());
    }
    let orientation = decoder.orientation().unwrap_or(image::metadata::Orientation::NoTransforms);
    let mut picture = DynamicImage::from_decoder(decoder).map_err(|e| Remarks::from(said(name, &e)))?;
    picture.apply_orientation(orientation);
    let (w, h) = (picture.width() as usize, picture.height() as usize);
    let rgb = if picture.color().has_alpha() {
        let on_white = |v: u8, a: u8| {
            // Between two bytes, so a byte.
            ((u32::from(v) * u32::from(a) + 255 * (255 - u32::from(a)) + 127) / 255) as u8
        };
        picture.into_rgba8().pixels().flat_map(|p| [0, 1, 2].map(|k| on_white(p[k], p[3]))).collect()
    } else {
        picture.into_rgb8().into_raw()
    };
    Raster::new(w, h, rgb).ok_or_else(|| broken(name, "a picture without pixels").into())
}

/// A picture as JPEG of a quality from 1 to 100. The same pixels give the same bytes.
///
/// # Errors
/// Says what the library says; pictures of ours are never too large for the format.
pub fn jpeg(name: &str, raster: &Raster, quality: u8) -> Result<Vec<u8>, Remarks> {
    let mut out = Vec::new();
    let size = u32::try_from(raster.width()).ok().zip(u32::try_from(raster.height()).ok());
    let (w, h) = size.unwrap_or((u32::MAX, u32::MAX));
    JpegEncoder::new_with_quality(&mut out, quality.clamp(1, 100))
        .encode(raster.rgb(), w, h, ExtendedColorType::Rgb8)
        .map_err(|e| Remarks::from(said(name, &e)))?;
    Ok(out)
}

/// The decoder of a picture, once its head says that it can be decoded in bounded memory.
fn decoder<'b>(name: &str, bytes: &'b [u8]) -> Result<impl ImageDecoder + 'b, Remarks> {
    if bytes.is_empty() {
        return Err(broken(name, "an empty file").into());
    }
    let format = image::guess_format(bytes).ok();
    let Some(format) = format.filter(|f| matches!(f, ImageFormat::Jpeg | ImageFormat::Png)) else {
        return Err(other_format(name, bytes, format).into());
    };
    let mut limits = Limits::default();
    limits.max_image_width = Some(LONGEST);
    limits.max_image_height = Some(LONGEST);
    limits.max_alloc = Some(MOST_MEMORY);
    let mut reader = ImageReader::with_format(Cursor::new(bytes), format);
    reader.limits(limits);
    let decoder = reader.into_decoder().map_err(|e| Remarks::from(said(name, &e)))?;
    let (w, h) = decoder.dimensions();
    if u64::from(w) * u64::from(h) > MOST_PIXELS || decoder.total_bytes() > MOST_MEMORY {
        return Err(too_large(name, format!("{w} × {h} pixels")).into());
    }
    Ok(decoder)
}

/// True if the picture is turned by a quarter.
fn is_quarter(orientation: image::metadata::Orientation) -> bool {
    use image::metadata::Orientation as O;
    matches!(orientation, O::Rotate90 | O::Rotate270 | O::Rotate90FlipH | O::Rotate270FlipH)
}

/// True if the segments of a JPEG lead to its end mark (ITU-T T.81, annex B, from memory). What follows it is not looked at.
fn jpeg_is_whole(bytes: &[u8]) -> bool {
    let mut at = 2;
    loop {
        // To the next mark: FF and a byte that is neither filling (FF), nor a value FF of the data (00), nor a restart (D0 to
        // D7), nor without meaning (01).
        let Some(rest) = bytes.get(at..) else { return false };
        let next = rest.windows(2).position(|w| w[0] == 0xFF && !matches!(w[1], 0x00 | 0x01 | 0xD0..=0xD8 | 0xFF));
        let Some(next) = next else { return false };
        let mark = at + next;
        if bytes[mark + 1] == 0xD9 {
            return true;
        }
        let Some(&[high, low]) = bytes.get(mark + 2..mark + 4) else { return false };
        at = mark + 2 + usize::from(u16::from_be_bytes([high, low])).max(2);
    }
}

/// What an error of the library means, in words.
fn said(name: &str, error: &ImageError) -> Remark {
    match error {
        ImageError::Limits(limit) => match limit.kind() {
            LimitErrorKind::DimensionError => too_large(name, format!("a side of more than {LONGEST} pixels")),
            _ => too_large(name, "a picture that needs too much memory".to_owned()),
        },
        ImageError::Unsupported(what) => {
            let given = format!("a kind of picture that is not read: {}", shown(&what.to_string()));
            Remark::about_file(Severity::Error, Kind::PictureUnknown, name, given, "a JPEG or PNG picture", SAVE)
        }
        other => broken(name, &format!("a broken picture: {}", shown(&other.to_string()))),
    }
}

/// The library's words, cut where they are long, on one line.
fn shown(words: &str) -> String {
    super::source::shortened(words)
}

fn broken(name: &str, given: &str) -> Remark {
    let fix = format!("copy it again from the camera, or {SAVE}");
    Remark::about_file(Severity::Error, Kind::PictureBroken, name, given, "a whole JPEG or PNG picture", fix)
}

fn too_large(name: &str, given: String) -> Remark {
    let expected = format!(
        "at most {} million pixels, {LONGEST} along a side and {} MB",
        MOST_PIXELS / 1_000_000,
        LARGEST_PICTURE / 1_000_000
    );
    let fix = "scale it down in a picture program; 20 million pixels show a slab in full";
    Remark::about_file(Severity::Error, Kind::PictureTooLarge, name, given, expected, fix)
}

fn other_format(name: &str, bytes: &[u8], format: Option<ImageFormat>) -> Remark {
    let brand = bytes.get(4..12).filter(|b| b.starts_with(b"ftyp")).map(|b| &b[4..]);
    let given = match (format, brand) {
        (_, Some(b"heic" | b"heix" | b"hevc" | b"heim" | b"mif1" | b"msf1")) => "an HEIC picture".to_owned(),
        (Some(f), _) => format!("a picture of the format {f:?}"),
        (None, _) => "a file that is no picture that we know".to_owned(),
    };
    Remark::about_file(Severity::Error, Kind::PictureUnknown, name, given, "a JPEG or PNG picture", SAVE)
}
