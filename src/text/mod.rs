//! Characters and names, whatever they stand for: what a terminal must not see, what no file may be called, how a
//! name in any letters becomes part of a path, how many of what, a word of a command to be typed.

mod counted;
mod digits;
mod folded;
mod invisible;
mod latin;
mod shell;
mod slug;

pub use counted::counted;
pub use digits::ascii_digit;
pub use folded::{Folded, letters, plain};
pub use invisible::{cut, is_invisible, on_a_line, visible};
pub use shell::shell_word;
pub use slug::{is_device, slug};
