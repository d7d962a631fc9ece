//! Picture files and marks as they come: turned by the camera, broken, huge, of other formats, mutated at random.

use std::panic::{AssertUnwindSafe, catch_unwind};

use proptest::prelude::*;
use scantling::diag::{Kind, Remark, Remarks, Severity};
use scantling::geom::pt;
use scantling::io;
use scantling::photo::Raster;

use super::{camera, chess, photograph};

/// A small photograph as JPEG.
fn small_jpeg() -> Vec<u8> {
    io::jpeg("x.jpg", &photograph(&camera(), [90, 64], |p| chess(pt(p.x / 3.0, p.y / 3.0))), 80).unwrap()
}

fn png(raster: &Raster) -> Vec<u8> {
    use image::ImageEncoder as _;
    let mut out = Vec::new();
    image::codecs::png::PngEncoder::new(&mut out)
        .write_image(raster.rgb(), raster.width() as u32, raster.height() as u32, image::ExtendedColorType::Rgb8)
        .unwrap();
    out
}

/// The one error that a picture gives.
#[track_caller]
fn error(bytes: &[u8]) -> Remark {
    let found = io::read_picture("slab.jpg", bytes).expect_err("an error");
    assert_eq!(found.0.len(), 1);
    let remark = found.0[0].clone();
    assert_eq!((remark.severity, remark.file.as_str()), (Severity::Error, "slab.jpg"));
    assert!(!remark.given.is_empty() && !remark.expected.is_empty() && !remark.fix.is_empty());
    remark
}

#[test]
fn a_png_comes_back_pixel_by_pixel_and_a_jpeg_nearly() {
    let raster = photograph(&camera(), [90, 64], |p| chess(pt(p.x / 3.0, p.y / 3.0)));
    assert_eq!(io::read_picture("x.png", &png(&raster)).unwrap(), raster);
    let jpeg = io::read_picture("x.jpg", &small_jpeg()).unwrap();
    let off: u32 = jpeg.rgb().iter().zip(raster.rgb()).map(|(a, b)| u32::from(a.abs_diff(*b))).sum();
    assert!(f64::from(off) / (raster.rgb().len() as f64) < 4.0);
    assert_eq!(small_jpeg(), small_jpeg(), "the same bytes twice");
}

#[test]
fn what_is_transparent_becomes_white_and_grey_pictures_are_read() {
    use image::ImageEncoder as _;
    let encode = |pixels: &[u8], kind| {
        let mut out = Vec::new();
        image::codecs::png::PngEncoder::new(&mut out).write_image(pixels, 2, 1, kind).unwrap();
        io::read_picture("x.png", &out).unwrap()
    };
    let clear = encode(&[10, 20, 30, 0, 10, 20, 30, 255], image::ExtendedColorType::Rgba8);
    assert_eq!((clear.pixel(0, 0), clear.pixel(1, 0)), ([255; 3], [10, 20, 30]));
    let grey = encode(&[7, 200], image::ExtendedColorType::L8);
    assert_eq!((grey.pixel(0, 0), grey.pixel(1, 0)), ([7; 3], [200; 3]));
}

/// The picture with the EXIF data that ask for a turn: an APP1 segment with one entry (CIPA DC-008, 4.5.4 and 4.6.4).
fn with_orientation(jpeg: &[u8], orientation: u8) -> Vec<u8> {
    let mut tiff = b"Exif\0\0MM\0\x2A\0\0\0\x08\0\x01\x01\x12\0\x03\0\0\0\x01\0".to_vec();
    tiff.extend([orientation, 0, 0, 0, 0, 0, 0]);
    let mut out = jpeg[..2].to_vec();
    out.extend([0xFF, 0xE1]);
    out.extend(u16::try_from(tiff.len() + 2).unwrap().to_be_bytes());
    out.extend(tiff);
    out.extend(&jpeg[2..]);
    out
}

/// Orientation n says which sides of the picture as seen the first row and the first column of the file are.
#[test]
fn pictures_stand_as_their_camera_was_held() {
    let (w, h) = (48, 32);
    let seen = |x: usize, y: usize| match (x < w / 2, y < h / 2) {
        (true, true) => [220, 20, 20],
        (false, true) => [20, 200, 20],
        (true, false) => [20, 20, 220],
        (false, false) => [240, 240, 240],
    };
    for orientation in 1..=8 {
        // Where the pixel of a row and a column of the file is seen.
        let (right, low) = (w - 1, h - 1);
        let place = |row: usize, col: usize| match orientation {
            1 => (col, row),
            2 => (right - col, row),
            3 => (right - col, low - row),
            4 => (col, low - row),
            5 => (row, col),
            6 => (right - row, col),
            7 => (right - row, low - col),
            _ => (row, low - col),
        };
        let (cols, rows) = if orientation < 5 { (w, h) } else { (h, w) };
        let stored = Raster::made(cols, rows, |col, row| {
            let (x, y) = place(row, col);
            seen(x, y)
        });
        let bytes = with_orientation(&io::jpeg("x.jpg", &stored.unwrap(), 95).unwrap(), orientation);
        assert_eq!(io::picture_size("x.jpg", &bytes).unwrap(), (48, 32), "{orientation}");
        let raster = io::read_picture("x.jpg", &bytes).unwrap();
        assert_eq!((raster.width(), raster.height()), (w, h));
        for (x, y) in [(8, 8), (40, 8), (8, 24), (40, 24)] {
            let (a, b) = (raster.pixel(x, y), seen(x, y));
            assert!(a.iter().zip(b).all(|(a, b)| a.abs_diff(b) < 12), "{orientation}: {a:?} for {b:?}");
        }
    }
}

#[test]
fn broken_files_say_so() {
    assert_eq!(error(b"").given, "an empty file");
    let jpeg = small_jpeg();
    for keep in [3, 20, 100, 300, jpeg.len() / 2, jpeg.len() - 40, jpeg.len() - 2] {
        let remark = error(&jpeg[..keep]);
        assert_eq!(remark.what, Kind::PictureBroken, "{keep} bytes: {remark}");
    }
    let breaks_off = error(&jpeg[..jpeg.len() - 40]);
    assert!(breaks_off.given.contains("breaks off"), "{breaks_off}");
    // What a camera writes behind the end is no fault.
    assert!(io::read_picture("x.jpg", &[&jpeg[..], &[0; 500]].concat()).is_ok());
    let png = png(&photograph(&camera(), [90, 64], chess));
    for keep in [9, 30, 60, png.len() / 2, png.len() - 13] {
        let remark = error(&png[..keep]);
        assert_eq!(remark.what, Kind::PictureBroken, "{keep} bytes: {remark}");
    }
    let mut wrong = png.clone();
    let middle = wrong.len() / 2;
    wrong[middle] ^= 0x55;
    assert_eq!(error(&wrong).what, Kind::PictureBroken);
}

#[test]
fn other_formats_are_named() {
    for (bytes, word) in [
        (&b"GIF89a\x01\0\x01\0\0\0\0;"[..], "Gif"),
        (b"II*\0\x08\0\0\0\0\0\0\0", "Tiff"),
        (b"RIFF\x24\0\0\0WEBPVP8 ", "WebP"),
        (b"\0\0\0\x18ftypheic\0\0\0\0mif1heic", "HEIC"),
        (b"units = \"mm\"\n[[slab]]\n", "no picture"),
        (b"<svg xmlns=\"http://www.w3.org/2000/svg\"/>", "no picture"),
    ] {
        let remark = error(bytes);
        assert_eq!(remark.what, Kind::PictureUnknown);
        assert!(remark.given.contains(word) && remark.expected.contains("JPEG"), "{remark}");
    }
}

/// A PNG whose head promises a size, and nothing behind it.
fn head_only(width: u32, height: u32) -> Vec<u8> {
    let mut chunk = b"IHDR".to_vec();
    chunk.extend(width.to_be_bytes());
    chunk.extend(height.to_be_bytes());
    chunk.extend([8, 2, 0, 0, 0]);
    // CRC-32 (ISO 3309), bit by bit.
    let mut crc = u32::MAX;
    for byte in &chunk {
        crc ^= u32::from(*byte);
        for _ in 0..8 {
            crc = if crc & 1 == 1 { (crc >> 1) ^ 0xEDB8_8320 } else { crc >> 1 };
        }
    }
    let mut out = b"\x89PNG\r\n\x1a\n\0\0\0\x0D".to_vec();
    out.extend(&chunk);
    out.extend((!crc).to_be_bytes());
    out.extend(b"\0\0\0\x04IDAT\0\0\0\0");
    out
}

#[test]
fn huge_pictures_are_refused_before_they_are_decoded() {
    for (w, h) in [(20_000, 20_000), (2_000_000_000, 2), (40_000, 10), (10, 40_000), (u32::MAX / 2, u32::MAX / 2)] {
        let remark = error(&head_only(w, h));
        assert_eq!(remark.what, Kind::PictureTooLarge, "{remark}");
        let size = io::picture_size("slab.jpg", &head_only(w, h)).unwrap_err();
        assert_eq!(size.0[0].what, Kind::PictureTooLarge);
    }
    assert_ne!(error(&head_only(9000, 9000)).what, Kind::PictureTooLarge);
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 600, ..ProptestConfig::default() })]

    #[test]
    fn mutated_pictures_never_panic(
        is_png in any::<bool>(),
        changes in prop::collection::vec((0.0..1.0f64, any::<u8>(), 0..4u8), 1..12),
        keep in prop_oneof![3 => Just(1.0), 1 => 0.0..1.0f64],
    ) {
        let mut bytes = if is_png { png(&photograph(&camera(), [45, 32], chess)) } else { small_jpeg() };
        for (at, value, how) in changes {
            // Half of the changes hit the head, where sizes and tables stand.
            let reach = if how % 2 == 0 { bytes.len() } else { bytes.len().min(700) };
            let i = ((at * reach as f64) as usize).min(bytes.len() - 1);
            match how {
                0 | 1 => bytes[i] = value,
                2 => bytes[i] ^= 1 << (value % 8),
                _ => bytes.insert(i, value),
            }
        }
        bytes.truncate((keep * bytes.len() as f64) as usize);
        let read = catch_unwind(AssertUnwindSafe(|| (io::read_picture("slab.jpg", &bytes), io::picture_size("slab.jpg", &bytes))));
        let Ok((read, size)) = read else { return Err(TestCaseError::fail("a panic")) };
        match read {
            Ok(raster) => {
                let (w, h) = size.unwrap();
                prop_assert_eq!((raster.width(), raster.height()), (w as usize, h as usize));
            }
            Err(Remarks(found)) => {
                prop_assert_eq!(found.len(), 1);
                prop_assert!(found[0].file == "slab.jpg" && !found[0].given.is_empty() && !found[0].fix.is_empty());
            }
        }
    }
}

/// The remarks of a rack whose slab has this photograph.
fn of_rack(photo: &str) -> Vec<Remark> {
    let job = "name = \"j\"\nrack = \"rack.toml\"\nmaterial = \"gneiss\"\nthickness = 30\n[[piece]]\nname = \"a\"\noutline.rectangle = [500, 300]\n";
    let rack = format!(
        "units = \"cm\"\n[[slab]]\nname = \"GN-1\"\nmaterial = \"gneiss\"\nstone = \"granite\"\nthickness = 3\nprice = 100\ngrain = 0\n\
         outline.rectangle = [200, 120]\n{photo}\n"
    );
    let read =
        io::read_question_from_texts(&[("job.toml".to_owned(), job.to_owned())], ("rack.toml".to_owned(), rack), None);
    match read {
        Ok(input) => {
            let photo = input.question.rack[0].photo.as_ref().expect("a photograph");
            assert_eq!(photo.at[1], pt(1900.0, 90.0), "millimetres, whatever the file's unit");
            input.remarks.0
        }
        Err(remarks) => remarks.0,
    }
    .into_iter()
    .filter(|r| r.severity != Severity::Note)
    .collect()
}

const MARKS: &str = "marks = [[108, 551.5], [813, 520], [754, 106.5], [152, 70]]";
const AT: &str = "at = [[10, 8], [190, 9], [185, 110], [\"60 mm\", 113]]";

#[test]
fn a_good_photograph_is_read_and_its_file_is_not_opened() {
    assert_eq!(of_rack(&format!("[slab.photo]\nfile = \"nowhere.jpg\"\n{MARKS}\n{AT}")), []);
}

#[test]
fn mistakes_in_marks_are_told_with_their_place() {
    let of = |marks: &str, at: &str| of_rack(&format!("[slab.photo]\nfile = \"x.jpg\"\n{marks}\n{at}"));
    let one = |found: Vec<Remark>, what: Kind, word: &str| {
        assert_eq!(found.len(), 1, "{found:?}");
        let r = &found[0];
        assert_eq!((r.what, r.file.as_str()), (what, "rack.toml"), "{r}");
        assert!(r.line >= 10 && r.key.starts_with("slab[0].photo") && r.to_string().contains(word), "{r}");
    };
    one(of("marks = [[1, 2], [3, 4], [5, 1]]", "at = [[0, 0], [1, 0], [1, 1]]"), Kind::WrongCount, "4 marks or more");
    one(of(MARKS, "at = [[10, 8], [190, 9], [185, 110]]"), Kind::WrongCount, "3 places for 4 marks");
    one(of(MARKS, "at = [[10, 8], [190, 9], [100, 8.5], [6, 113]]"), Kind::MarksInLine, "thick");
    one(of("marks = [[0, 0], [100, 100], [200, 201], [50, 400]]", AT), Kind::MarksInLine, "thick");
    one(of("marks = [[152, 70], [754, 106], [813, 520], [108, 551]]", AT), Kind::MarksDisordered, "other way");
    one(of("marks = [[813, 520], [108, 551], [754, 106], [152, 70]]", AT), Kind::MarksDisordered, "camera");
    one(of("marks = [[108, -3], [813, 520], [754, 106], [152, 70]]", AT), Kind::Negative, "0 or more");
    one(of("marks = [[108, 551, 3], [813, 520], [754, 106], [152, 70]]", AT), Kind::WrongCount, "2 numbers");
    one(of("marks = [[\"108 mm\", 551], [813, 520], [754, 106], [152, 70]]", AT), Kind::WrongType, "number");
    one(of(MARKS, "at = [[10, 8], [190, 9], [185, \"x\"], [6, 113]]"), Kind::BadLength, "length");
    one(of_rack(&format!("[slab.photo]\n{MARKS}\n{AT}")), Kind::MissingKey, "file");
    one(of_rack(&format!("[slab.photo]\nfile = \"x.jpg\"\nmark = 3\n{MARKS}\n{AT}")), Kind::UnknownKey, "\"marks\"");
    let many: Vec<String> = (0..501).map(|i| format!("[{}, {}]", i % 23, i / 23)).collect();
    one(of(&format!("marks = [{}]", many.join(", ")), AT), Kind::WrongCount, "at most 500");
    let found = of_rack("photo = \"x.jpg\"");
    assert_eq!(found[0].what, Kind::WrongType);
}

#[test]
fn marks_that_do_not_agree_are_a_warning_that_names_the_worst() {
    let marks = "marks = [[108, 551.5], [813, 520], [754, 106.5], [152, 70], [455, 290], [290, 430], [600, 220]]";
    let at = "at = [[10, 8], [190, 9], [185, 110], [6, 113], [92, 61], [54, 30.5], [134, 78.5]]";
    let found = of_rack(&format!("[slab.photo]\nfile = \"x.jpg\"\n{marks}\n{at}"));
    assert_eq!(found.len(), 1, "{found:?}");
    assert_eq!((found[0].what, found[0].severity), (Kind::MarksOff, Severity::Warning));
    assert!(found[0].given.starts_with("mark "), "{}", found[0]);
    // One that is a metre off is no slip of the tape.
    let found =
        of_rack(&format!("[slab.photo]\nfile = \"x.jpg\"\n{marks}\n{}", at.replace("[134, 78.5]", "[34, 78.5]")));
    assert_eq!((found[0].what, found[0].severity), (Kind::MarksOff, Severity::Error), "{found:?}");
}
