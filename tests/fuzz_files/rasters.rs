//! Rasters, what lies beside them, and what they refer to.

use std::fs;
use std::os::unix::fs::symlink;
use std::path::PathBuf;

use super::pieces::{Pieces, Random};

pub fn make(random: &mut Random, pieces: &Pieces) -> PathBuf {
    // What a virtual raster may find.
    for name in ["a.tif", "p.tif"] {
        if !random.one_in(6) {
            fs::write(pieces.folder.join(name), &pieces.rasters[random.below(2)].1).unwrap();
        }
    }
    if random.one_in(3) {
        fs::write(pieces.folder.join("d.mrf"), caching(random, pieces)).unwrap();
    }
    if random.one_in(6) {
        fs::write(pieces.folder.join("f.gpkg"), &pieces.package).unwrap();
    }
    if random.one_in(6) {
        fs::write(pieces.folder.join("e.asc"), content("asc", random, pieces)).unwrap();
    }
    let main = if random.one_in(2) {
        for name in ["b.vrt", "c.vrt"] {
            if random.one_in(2) {
                fs::write(pieces.folder.join(name), virtual_raster(random, pieces)).unwrap();
            }
        }
        let file = pieces.folder.join("main.vrt");
        fs::write(&file, virtual_raster(random, pieces)).unwrap();
        file
    } else {
        let (end, _) = &pieces.rasters[random.below(pieces.rasters.len())];
        let end = *end;
        let name = match end {
            "hgt" => "N47W035.hgt".to_owned(),
            end if random.one_in(12) => {
                format!("main.{}", random.pick(&["dem", "bil", "img", end]))
            }
            end => format!("main.{end}"),
        };
        let file = pieces.folder.join(name);
        match random.below(20) {
            0 => symlink(&pieces.pipe, &file).unwrap(),
            1 => symlink("/dev/zero", &file).unwrap(),
            2 => symlink(&pieces.precious, &file).unwrap(),
            3 => fs::create_dir(&file).unwrap(),
            4 => fs::hard_link(&pieces.pipe, &file).unwrap(),
            _ => fs::write(&file, content(end, random, pieces)).unwrap(),
        }
        if end == "bil" {
            let head = "NROWS 60\nNCOLS 70\nNBANDS 1\nNBITS 16\nBYTEORDER I\nLAYOUT BIL\nULXMAP 354720\nULYMAP 5208380\nXDIM 40\nYDIM 40\nPIXELTYPE SIGNEDINT\n";
            let mut head = head.as_bytes().to_vec();
            if random.one_in(3) {
                random.damage(&mut head);
            }
            fs::write(file.with_extension("hdr"), head).unwrap();
        }
        if end != "tif" && end != "hgt" && !random.one_in(4) {
            let crs = pieces.crs(random);
            fs::write(file.with_extension("prj"), crs).unwrap();
        }
        file
    };
    if random.one_in(3) {
        beside(&main, random, pieces);
    }
    main
}

fn content(end: &str, random: &mut Random, pieces: &Pieces) -> Vec<u8> {
    let all: Vec<_> = pieces.rasters.iter().filter(|(own, _)| *own == end).collect();
    let mut bytes = all[random.below(all.len())].1.clone();
    match random.below(6) {
        0 | 1 => {}
        2 if end == "asc" || end == "xyz" => text_of_numbers(random, &mut bytes),
        5 if random.one_in(3) => bytes = virtual_raster(random, pieces).into_bytes(),
        _ => random.damage(&mut bytes),
    }
    bytes
}

/// Commas, words and endless tokens among numbers.
fn text_of_numbers(random: &mut Random, bytes: &mut Vec<u8>) {
    let at = random.below(bytes.len());
    let token = match random.below(6) {
        0 => "x".repeat(1 + random.below(5000)),
        1 => ",".repeat(1 + random.below(40)),
        2 => "1".repeat(1 + random.below(100_000)),
        3 => "\n".repeat(1 + random.below(10_000)),
        4 => random.extreme(),
        _ => "\u{0}".repeat(1 + random.below(1000)),
    };
    bytes.splice(at..at, token.into_bytes());
    if random.one_in(3) {
        bytes.truncate(at + 10);
    }
}

/// Something that is read along with a file.
fn beside(main: &std::path::Path, random: &mut Random, pieces: &Pieces) {
    let name = main.file_name().unwrap().to_string_lossy().into_owned();
    let stem = main.file_stem().unwrap().to_string_lossy().into_owned();
    for _ in 0..1 + random.below(3) {
        let end = random.pick(&[
            "msk",
            "ovr",
            "aux.xml",
            "aux",
            "rrd",
            "prj",
            "tfw",
            "wld",
            "hdr",
            "clr",
            "stx",
            "msk.aux.xml",
            "ovr.aux.xml",
            "rpb",
            "imd",
            "xml",
            "til",
            "ige",
        ]);
        let side = if random.one_in(2) { format!("{name}.{end}") } else { format!("{stem}.{end}") };
        let path = pieces.folder.join(side);
        if fs::symlink_metadata(&path).is_ok() {
            continue;
        }
        match random.below(9) {
            0 => fs::write(&path, &pieces.rasters[0].1).unwrap(),
            1 => fs::write(&path, virtual_raster(random, pieces)).unwrap(),
            2 => fs::write(&path, caching(random, pieces)).unwrap(),
            3 => fs::hard_link(&pieces.pipe, &path).unwrap(),
            4 => symlink(random.pick(&["/dev/zero", "/dev/tty", "/proc/self/mem"]), &path).unwrap(),
            5 => symlink(&pieces.precious, &path).unwrap(),
            6 => {
                let mut bytes = pieces.rasters[0].1.clone();
                random.damage(&mut bytes);
                fs::write(&path, bytes).unwrap();
            }
            7 => fs::write(&path, pieces.crs(random)).unwrap(),
            _ => fs::write(&path, described(random, pieces)).unwrap(),
        }
    }
}

/// The description that lies beside rasters of any format.
fn described(random: &mut Random, pieces: &Pieces) -> String {
    let parts = [
        format!(
            "<Metadata domain=\"OVERVIEWS\"><MDI key=\"OVERVIEW_FILE\">{}</MDI></Metadata>",
            pieces.name(random)
        ),
        format!("<SRS>{}</SRS>", pieces.crs(random)),
        format!(
            "<GeoTransform>{}, 40, 0, {}, 0, -40</GeoTransform>",
            random.extreme(),
            random.extreme()
        ),
        "<Metadata><MDI key=\"INTERNAL_MASK_FLAGS_1\">2</MDI></Metadata>".to_owned(),
        format!(
            "<PAMRasterBand band=\"1\"><NoDataValue>{}</NoDataValue><Scale>{}</Scale><UnitType>{}</UnitType></PAMRasterBand>",
            random.extreme(),
            random.extreme(),
            random.pick(&["m", "ft", "x"])
        ),
        format!(
            "<GCPList Projection=\"{}\"><GCP Pixel=\"0\" Line=\"{}\" X=\"0\" Y=\"0\"/></GCPList>",
            pieces.crs(random),
            random.extreme()
        ),
        "<!DOCTYPE a [<!ENTITY b 'c'>]>".to_owned(),
    ];
    let some: String = parts.iter().filter(|_| random.one_in(3)).cloned().collect();
    format!("<PAMDataset>{some}</PAMDataset>")
}

/// A format that keeps a copy of what it reads.
fn caching(random: &mut Random, pieces: &Pieces) -> String {
    let target =
        if random.one_in(2) { pieces.precious.display().to_string() } else { pieces.name(random) };
    format!(
        "<MRF_META><CachedSource><Source>{}</Source></CachedSource><Raster><Size x=\"70\" y=\"60\" c=\"1\"/><PageSize x=\"70\" y=\"60\" c=\"1\"/><Compression>{}</Compression><DataType>Float32</DataType><DataFile>{target}</DataFile><IndexFile>{target}.idx</IndexFile></Raster><GeoTags><BoundingBox minx=\"354700\" miny=\"5206000\" maxx=\"357500\" maxy=\"5208400\"/></GeoTags></MRF_META>",
        pieces.name(random),
        random.pick(&["NONE", "DEFLATE", "LERC", "PNG"])
    )
}

fn rect(random: &mut Random, name: &str) -> String {
    if !random.one_in(3) {
        return format!("<{name} xOff=\"0\" yOff=\"0\" xSize=\"70\" ySize=\"60\"/>");
    }
    let mut side = |attribute: &str| format!("{attribute}=\"{}\"", random.extreme());
    format!("<{name} {} {} {} {}/>", side("xOff"), side("yOff"), side("xSize"), side("ySize"))
}

fn virtual_raster(random: &mut Random, pieces: &Pieces) -> String {
    let mut sources = String::new();
    for _ in 0..random.below(4) {
        let kind = match random.below(14) {
            0 => "KernelFilteredSource",
            1 => "AveragedSource",
            2 => "ArraySource",
            3..6 => "ComplexSource",
            _ => "SimpleSource",
        };
        let attribute = match random.below(16) {
            0 => " resampling=\"cubic\"",
            1 => " resampling=\"nearest\"",
            _ => "",
        };
        let relative =
            random.pick(&["relativeToVRT=\"1\"", "relativeToVRT=\"0\"", "relativetoVRT=\"1\"", ""]);
        let relative = if random.one_in(2) { "relativeToVRT=\"1\"" } else { relative };
        let inside = match random.below(10) {
            0 => format!(
                "<OpenOptions><OOI key=\"{}\">{}</OOI></OpenOptions>",
                random.extreme(),
                pieces.name(random)
            ),
            1 => format!("<NODATA>{}</NODATA>", random.extreme()),
            2 => format!("<Kernel><Size>{}</Size><Coefs>1 1 1</Coefs></Kernel>", random.extreme()),
            3 => format!("<ScaleRatio>{}</ScaleRatio>", random.extreme()),
            4 => format!(
                "<SourceProperties RasterXSize=\"{}\" RasterYSize=\"60\" DataType=\"Float32\" BlockXSize=\"{}\" BlockYSize=\"1\"/>",
                random.extreme(),
                random.extreme()
            ),
            _ => String::new(),
        };
        sources += &format!(
            "<{kind}{attribute}><SourceFilename {relative}>{}</SourceFilename><SourceBand>{}</SourceBand>{inside}{}{}</{kind}>",
            pieces.name(random),
            if random.one_in(10) { random.extreme() } else { "1".to_owned() },
            rect(random, "SrcRect"),
            rect(random, "DstRect"),
        );
    }
    let more = match random.below(16) {
        0 => format!("<MaskBand><VRTRasterBand dataType=\"Byte\">{sources}</VRTRasterBand></MaskBand>"),
        1 => format!("<Overview><SourceFilename relativeToVRT=\"1\">{}</SourceFilename><SourceBand>1</SourceBand></Overview>", pieces.name(random)),
        2 => "<OverviewList resampling=\"average\">2 4</OverviewList>".to_owned(),
        3 => "<PixelFunctionType>add</PixelFunctionType><PixelFunctionLanguage>Python</PixelFunctionLanguage><PixelFunctionCode>import os</PixelFunctionCode>".to_owned(),
        _ => String::new(),
    };
    let class = match random.below(20) {
        0 => " subClass=\"VRTWarpedDataset\"",
        1 => " subClass=\"VRTPansharpenedDataset\"",
        _ => "",
    };
    let band = match random.below(16) {
        0 => " subClass=\"VRTDerivedRasterBand\"",
        1 => " subClass=\"VRTRawRasterBand\"",
        _ => "",
    };
    let raw = if band.contains("Raw") {
        format!(
            "<SourceFilename relativeToVRT=\"1\">{}</SourceFilename><ImageOffset>{}</ImageOffset><PixelOffset>4</PixelOffset><LineOffset>280</LineOffset>",
            pieces.name(random),
            random.extreme()
        )
    } else {
        String::new()
    };
    let (width, height) = if random.one_in(8) {
        (random.extreme(), random.extreme())
    } else {
        ("70".to_owned(), "60".to_owned())
    };
    let crs = if random.one_in(4) { pieces.crs(random) } else { "EPSG:32625".to_owned() };
    let mut text = format!(
        "<VRTDataset rasterXSize=\"{width}\" rasterYSize=\"{height}\"{class}><SRS>{crs}</SRS><GeoTransform>354700, 40, 0, 5208400, 0, -40</GeoTransform><VRTRasterBand dataType=\"Float32\" band=\"1\"{band}>{raw}{sources}{more}</VRTRasterBand></VRTDataset>"
    );
    if random.one_in(10) {
        let mut bytes = text.into_bytes();
        random.damage(&mut bytes);
        text = String::from_utf8_lossy(&bytes).into_owned();
    }
    text
}
