//! What lies where, and how large it may be.

use super::{
    files_below, ignored, nothing, product_part, read, root, rust_files, short, test_part,
};

/// The top level, exactly.
const TOP: [&str; 14] = [
    ".ci",
    ".clippy.toml",
    ".config",
    ".gitignore",
    "Cargo.lock",
    "Cargo.toml",
    "DEVELOPERS.md",
    "LICENSE-APACHE",
    "LICENSE-MIT",
    "README.md",
    "assets",
    "crates",
    "docs",
    "tests",
];

/// Longest file, in lines.
const LONGEST: usize = 800;
/// Files that are longer, for now. Only ever gets shorter.
const TOO_LONG: [&str; 0] = [];

#[test]
fn the_top_level_is_as_agreed() {
    let hidden = ignored();
    let mut found: Vec<String> = std::fs::read_dir(root())
        .unwrap()
        .map(|e| e.unwrap().file_name().to_string_lossy().into_owned())
        .filter(|n| n != ".git" && !hidden.contains(n))
        .collect();
    found.sort();
    assert_eq!(found, TOP);
}

#[test]
fn files_are_short() {
    let mut complaints = Vec::new();
    for file in rust_files() {
        let (name, lines) = (short(&file), read(&file).lines().count());
        let excused = TOO_LONG.contains(&name.as_str());
        if lines > LONGEST && !excused {
            complaints.push(format!(
                "{name}: {lines} lines, at most {LONGEST} are allowed"
            ));
        }
        if lines <= LONGEST && excused {
            complaints.push(format!(
                "{name}: only {lines} lines now; take it off the list of exceptions"
            ));
        }
    }
    nothing(&complaints);
}

#[test]
fn files_are_named_for_what_is_in_them() {
    let vague = ["utils", "util", "common", "helpers", "helper", "misc"];
    let complaints: Vec<String> = rust_files()
        .iter()
        .filter(|f| {
            f.components()
                .any(|c| vague.contains(&c.as_os_str().to_string_lossy().trim_end_matches(".rs")))
        })
        .map(|f| format!("{}: the name says nothing", short(f)))
        .collect();
    nothing(&complaints);
}

#[test]
fn nothing_is_left_open_in_the_code() {
    // Put together here so that this file does not complain about itself.
    let open = [
        ["to", "do!"].concat(),
        ["unimple", "mented!"].concat(),
        ["db", "g!("].concat(),
    ];
    let mut complaints = Vec::new();
    for file in rust_files() {
        let text = read(&file);
        for (number, line) in text.lines().enumerate() {
            if open.iter().any(|word| line.contains(word.as_str())) {
                complaints.push(format!("{}:{}: {}", short(&file), number + 1, line.trim()));
            }
        }
    }
    nothing(&complaints);
}

#[test]
fn tests_left_out_say_why() {
    let bare = ["#[ig", "nore]"].concat();
    let complaints: Vec<String> = rust_files()
        .iter()
        .filter(|f| read(f).contains(&bare))
        .map(|f| format!("{}: a test is left out without a reason", short(f)))
        .collect();
    nothing(&complaints);
}

#[test]
fn no_path_of_a_machine_is_in_the_tree() {
    let paths = [
        ["/wo", "rk/"].concat(),
        ["/ro", "ot/"].concat(),
        ["/ho", "me/"].concat(),
        ["C:", "\\Users"].concat(),
    ];
    let mut complaints = Vec::new();
    for file in files_below("") {
        let Ok(text) = std::fs::read_to_string(&file) else {
            continue;
        };
        for (number, line) in text.lines().enumerate() {
            if paths.iter().any(|p| line.contains(p.as_str())) {
                complaints.push(format!("{}:{}", short(&file), number + 1));
            }
        }
    }
    nothing(&complaints);
}

#[test]
fn only_the_program_prints() {
    let prints = [["prin", "tln!("].concat(), ["prin", "t!("].concat()];
    let mut complaints = Vec::new();
    for file in rust_files() {
        let name = short(&file);
        // A build script speaks to cargo by what it prints.
        let spared = name.starts_with("crates/unmirror/") || name.ends_with("/build.rs");
        if !name.starts_with("crates/") || spared {
            continue;
        }
        let text = read(&file);
        let product = product_part(&file, &text);
        if prints.iter().any(|p| {
            product
                .lines()
                .any(|l| l.contains(p.as_str()) && !l.trim_start().starts_with("//"))
        }) {
            complaints.push(format!("{name} prints"));
        }
    }
    nothing(&complaints);
}

#[test]
fn the_engine_knows_no_clock_and_no_files() {
    let barred = [
        "std::fs",
        "std::time",
        "SystemTime",
        "Instant::now",
        "std::env",
        "thread_rng",
        "rand::rng(",
    ];
    let mut complaints = Vec::new();
    for file in rust_files() {
        let name = short(&file);
        // A build script is no part of what it builds.
        if !["crates/geom/", "crates/record/", "crates/study/"]
            .iter()
            .any(|c| name.starts_with(c))
            || name.ends_with("/build.rs")
        {
            continue;
        }
        let text = read(&file);
        for (number, line) in product_part(&file, &text).lines().enumerate() {
            if let Some(word) = barred
                .iter()
                .find(|w| line.contains(**w) && !line.trim_start().starts_with("//"))
            {
                complaints.push(format!("{name}:{}: {word}", number + 1));
            }
        }
    }
    nothing(&complaints);
}

#[test]
fn links_between_the_documents_lead_somewhere() {
    let mut documents = files_below("docs");
    documents.retain(|p| p.extension().is_some_and(|e| e == "md"));
    documents.extend(
        ["README.md", "DEVELOPERS.md"]
            .iter()
            .map(|n| root().join(n)),
    );
    let mut complaints = Vec::new();
    for document in &documents {
        let text = read(document);
        for link in text
            .split("](")
            .skip(1)
            .filter_map(|rest| rest.split(')').next())
        {
            let target = link.split('#').next().unwrap_or("");
            if target.is_empty() || target.contains("://") {
                continue;
            }
            if !document
                .parent()
                .is_some_and(|folder| folder.join(target).exists())
            {
                complaints.push(format!("{}: {link} leads nowhere", short(document)));
            }
        }
    }
    nothing(&complaints);
}

#[test]
fn the_parts_of_a_file_are_told_apart() {
    let file = root().join("crates/x/src/y.rs");
    let text = "const A: i32 = 1;\n#[cfg(test)]\nmod tests {\n    const B: i32 = 2;\n}\n";
    assert!(product_part(&file, text).ends_with("1;\n"));
    assert!(test_part(&file, text).contains("const B"));
    let by_path = "#[cfg(test)]\nmod tests;\nconst A: i32 = 1;\n";
    assert_eq!(product_part(&file, by_path), by_path);
}
