//! Jumps that stand in a score in words only, where no program can tell what they mean.

/// Words that ask for a jump: `D.C. al Fine`, `Dal Segno`.
pub(super) fn is_jump(words: &str) -> bool {
    let plain: String = words.to_lowercase().chars().filter(|c| c.is_alphanumeric()).collect();
    ["dc", "ds", "dacapo", "dalsegno"].iter().any(|jump| plain == *jump || plain.starts_with(&format!("{jump}al")))
}
