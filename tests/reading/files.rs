//! Encodings, archives, documents of other kinds, damage. XML 1.0; MusicXML 4.0, "Compressed .MXL files".

use crate::score::{START, letters, mxl, note, partwise, read, smf};

fn one_note() -> String {
    partwise(&[&format!("{START}{}", note('C', 0, 4, 16, ""))])
}

fn refused(bytes: impl AsRef<[u8]>) -> String {
    read(bytes).map_or_else(|error| error.to_string(), |_| "it was read".into())
}

const CONTAINER: &str = "<container><rootfiles><rootfile full-path=\"NAME\"/>\
    <rootfile full-path=\"other.pdf\" media-type=\"application/pdf\"/></rootfiles></container>";

#[test]
fn titles_in_any_encoding() {
    let titled = |encoding: &str| {
        one_note()
            .replace("version=\"1.0\"?>", &format!("version=\"1.0\" encoding=\"{encoding}\"?>"))
            .replace("<part-list>", "<movement-title>Étude – 1</movement-title><part-list>")
    };
    let utf16: Vec<u8> =
        [0xFE, 0xFF].into_iter().chain(titled("UTF-16").encode_utf16().flat_map(u16::to_be_bytes)).collect();
    let windows: Vec<u8> = titled("windows-1252")
        .chars()
        .map(|c| match c {
            'É' => 0xC9,
            '–' => 0x96,
            c => c as u8,
        })
        .collect();
    for bytes in [titled("UTF-8").into_bytes(), utf16, windows] {
        assert_eq!(read(bytes).unwrap().title.as_deref(), Some("Étude – 1"));
    }
    let latin: Vec<u8> = titled("ISO-8859-1").replace('–', "-").chars().map(|c| c as u8).collect();
    assert_eq!(read(latin).unwrap().title.as_deref(), Some("Étude - 1"));
}

#[test]
fn archives_with_and_without_a_container() {
    let (score, other) = (one_note(), partwise(&[&format!("{START}{}", note('G', 0, 4, 16, ""))]));
    let container = CONTAINER.replace("NAME", "music/score.xml");
    let with = mxl(&[
        ("a.xml", other.as_bytes()),
        ("META-INF/container.xml", container.as_bytes()),
        ("music/score.xml", score.as_bytes()),
    ]);
    assert_eq!(letters(with), "C");
    assert_eq!(letters(mxl(&[("x.png", b"picture"), ("score.musicxml", score.as_bytes())])), "C");
    let two = mxl(&[("a.xml", other.as_bytes()), ("b.xml", score.as_bytes())]);
    assert!(refused(two).contains("container"));
    assert!(refused(mxl(&[("x.png", b"picture")])).contains("no MusicXML"));
    let lost = mxl(&[("META-INF/container.xml", container.as_bytes())]);
    assert!(refused(lost).contains("music/score.xml"));
}

/// Names in an archive are only looked up in it: whatever they say, nothing outside is opened.
#[test]
fn names_in_an_archive_lead_nowhere_else() {
    let folder = tempfile::tempdir().unwrap();
    let outside = folder.path().join("outside.musicxml");
    std::fs::write(&outside, one_note()).unwrap();
    let away = outside.display().to_string();
    for name in [&*away, "../outside.musicxml", "..\\outside.musicxml", "/etc/passwd", "file:///etc/passwd"] {
        let container = CONTAINER.replace("NAME", name);
        let lost = mxl(&[("META-INF/container.xml", container.as_bytes())]);
        assert!(refused(lost).contains("not in it"), "{name}");
        // A file of that very name in the archive is the score, and stays in the archive.
        let found = mxl(&[("META-INF/container.xml", container.as_bytes()), (name, one_note().as_bytes())]);
        assert_eq!(letters(found), "C", "{name}");
    }
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1);
}

/// A symbolic link in an archive is a file that holds a path (APPNOTE.TXT, 4.4.15, and the modes of Unix): it is not followed.
#[test]
fn links_in_an_archive_are_not_followed() {
    let folder = tempfile::tempdir().unwrap();
    let outside = folder.path().join("outside.musicxml");
    std::fs::write(&outside, one_note()).unwrap();
    let mut archive = zip::ZipWriter::new(std::io::Cursor::new(Vec::new()));
    let plain = zip::write::SimpleFileOptions::default();
    archive.add_symlink("score.xml", outside.display().to_string(), plain).unwrap();
    let error = refused(archive.finish().unwrap().into_inner());
    assert!(error.contains("XML is damaged") || error.contains("neither"), "{error}");
}

/// What is inside an archive is a score, no other archive; and it is never unpacked beyond the limit, whatever the archive
/// claims: 65 MB of spaces are 64 kB here.
#[test]
fn archives_are_not_unpacked_without_end() {
    let inner = mxl(&[("score.xml", one_note().as_bytes())]);
    let error = refused(mxl(&[("score.xml", &inner)]));
    assert!(error.contains("damaged") || error.contains("should be"), "{error}");
    let huge = mxl(&[("score.xml", &vec![b' '; 65 << 20])]);
    assert!(huge.len() < 1 << 20);
    assert!(refused(&huge).contains("larger than 64 MB"));
    // The same with sizes that lie: a small number in the local header and in the directory.
    let real = (65u32 << 20).to_le_bytes();
    let mut lying = huge.clone();
    let places: Vec<usize> = (0..lying.len() - 4).filter(|&at| lying[at..at + 4] == real).collect();
    assert!(!places.is_empty());
    for at in places {
        lying[at..at + 4].copy_from_slice(&1000u32.to_le_bytes());
    }
    assert!(read(&lying).is_err());
    let empty: Vec<String> = (0..10_001).map(|number| format!("{number}.png")).collect();
    let many = mxl(&empty.iter().map(|name| (name.as_str(), &b""[..])).collect::<Vec<_>>());
    assert!(refused(many).contains("10001 files"));
}

#[test]
fn timewise_in_an_archive() {
    let part = |step| format!("<part id=\"P1\">{}</part>", note(step, 0, 4, 16, ""));
    let score = format!(
        "<score-timewise><part-list><score-part id=\"P1\"><part-name>Line</part-name></score-part></part-list>\
         <measure number=\"1\"><part id=\"P2\"/><part id=\"P1\">{START}</part></measure><measure number=\"2\">{}</measure>\
         <measure number=\"3\">{}</measure></score-timewise>",
        part('E'),
        part('F')
    );
    assert_eq!(letters(mxl(&[("score.xml", score.as_bytes())])), "EF");
}

#[test]
fn other_documents_are_named() {
    assert!(refused("").contains("empty"));
    assert!(refused("Dear band,").contains("neither MusicXML nor"));
    assert!(refused("<html><p>hello</p></html>").contains("<html>"));
    assert!(refused("<score-partwise/>").contains("no music"));
    assert!(refused(b"RIFF\x04\0\0\0WAVE").contains("byte 8"));
}

#[test]
fn entities_are_never_expanded() {
    for doctype in [
        "<!DOCTYPE score-partwise [<!ENTITY a \"b\">]>",
        "<!DOCTYPE score-partwise SYSTEM \"x>y.dtd\" [ <!-- > --> <!ENTITY % p SYSTEM \"file:///etc/passwd\"> %p; ]>",
        "<!DOCTYPE score-partwise PUBLIC \"a\" \"b\" [\n<!ENTITY a SYSTEM \"http://127.0.0.1:9/\">]>",
    ] {
        let error = refused(one_note().replace("<score-partwise", &format!("{doctype}<score-partwise")));
        assert!(error.contains("entities"), "{error}");
    }
    let plain = one_note()
        .replace("<score-partwise", "<!DOCTYPE score-partwise PUBLIC \"a\" \"http://127.0.0.1:9/b\"><score-partwise");
    assert_eq!(letters(plain), "C");
}

#[test]
fn deep_nesting_is_no_danger() {
    let deep = format!("{}{}", "<a>".repeat(100_000), "</a>".repeat(100_000));
    assert!(refused(&deep).contains("<a>"));
    let inside = one_note().replace("<note>", &format!("{deep}<note>"));
    assert_eq!(letters(inside), "C");
}

#[test]
fn what_would_take_too_long_is_refused() {
    let attributes: String = (0..100_000).map(|i| format!(" a{i}=\"1\"")).collect();
    assert!(refused(format!("<score-partwise{attributes}/>")).contains("attributes"));
    let namespaces: String = (0..20_000).map(|i| format!("<a xmlns:n{i}=\"u{i}\">")).collect();
    assert!(refused(format!("{namespaces}{}", "</a>".repeat(20_000))).contains("attributes"));
    assert!(refused(format!("<a>{}</a>", "<b/>".repeat(2_500_000))).contains("elements"));
    let measures = one_note().replace("<measure", &format!("{}<measure", "<measure/>".repeat(20_000)));
    assert!(refused(measures).contains("longer"));
    let events = [&[0, 0x90, 60, 80][..], &[1, 60, 0, 1, 60, 80].repeat(800_000), &[0, 0xFF, 0x2F, 0]].concat();
    assert!(refused(smf(0, [0, 96], &[&events])).contains("events"));
    let notes = [&[0, 0x90, 60, 80][..], &[1, 60, 0, 1, 60, 80].repeat(200_001), &[0, 0xFF, 0x2F, 0]].concat();
    assert!(refused(smf(0, [0, 96], &[&notes])).contains("longer"));
    // A line of equals signs in a comment is harmless.
    assert_eq!(letters(one_note().replace("<part-list>", &format!("<!-- {} --><part-list>", "=".repeat(500)))), "C");
}

#[test]
fn a_text_cut_off_anywhere_is_refused() {
    let score = one_note();
    for end in 0..score.len() {
        assert!(read(&score.as_bytes()[..end]).is_err(), "{end}");
    }
    let archive = mxl(&[("score.xml", score.as_bytes())]);
    for end in 0..archive.len() {
        assert!(read(&archive[..end]).is_err(), "{end}");
    }
}
