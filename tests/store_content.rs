//! The handover id: what it is by hand, what moves it, what does not, and stores made to lead it astray.
use sha2::{Digest, Sha256};
use slipbook::store::{ContentId, Id, Spoken, Store, StoreError};

mod store_support;
use store_support::*;

fn id_of(store: &Store) -> ContentId {
    let tip = store.head().unwrap().unwrap();
    store.contents(tip, &|_| {}).unwrap().id
}

fn sha(kind: &str, bytes: &[u8], names: &[[u8; 32]]) -> [u8; 32] {
    let mut hash = Sha256::new();
    hash.update(format!("{kind} {}\0", bytes.len()));
    hash.update(bytes);
    names.iter().for_each(|n| hash.update(n));
    hash.finalize().into()
}

#[test]
fn it_is_what_the_description_says() {
    let book = Book::empty();
    book.put(&[("car.toml", "name = \"Grey\"\n"), ("days/2026/x.toml", "one\n")]);
    let raw = |kind: &str, name: &str| try_git(book.dir(), &["cat-file", kind, name]).stdout;
    let tree_of = |name: &str, names: &[[u8; 32]]| sha("tree", &raw("tree", name), names);
    let day = sha("blob", b"one\n", &[]);
    let year = tree_of("HEAD:days/2026", &[day]);
    let days = tree_of("HEAD:days", &[year]);
    let root = tree_of("HEAD^{tree}", &[sha("blob", b"name = \"Grey\"\n", &[]), days]);
    let first = sha("commit", &raw("commit", "HEAD"), &[root]);
    assert_eq!(id_of(&book.store), ContentId::from_bytes(first));
    // The second names its tree, then its parent.
    book.put(&[("days/2026/x.toml", "two\n")]);
    let year = tree_of("HEAD:days/2026", &[sha("blob", b"two\n", &[])]);
    let days = tree_of("HEAD:days", &[year]);
    let root = tree_of("HEAD^{tree}", &[sha("blob", b"name = \"Grey\"\n", &[]), days]);
    let second = sha("commit", &raw("commit", "HEAD"), &[root, first]);
    let contents = book.store.contents(book.store.head().unwrap().unwrap(), &|_| {}).unwrap();
    assert_eq!(contents.id, ContentId::from_bytes(second));
    assert_eq!(contents.objects, 11, "2 commits, 6 trees of which 2 x 3, 3 texts");
    let parent: Id = book.git(&["rev-parse", "HEAD~1"]).trim().parse().unwrap();
    assert_eq!(contents.commits[&parent], ContentId::from_bytes(first));
}

#[test]
fn packing_and_cloning_do_not_move_it_and_anything_else_does() {
    let book = Book::new();
    let first = book.store.head().unwrap().unwrap();
    let was = id_of(&book.store);
    book.put(&[("setup.toml", "height = 0.50 # in\n")]);
    let now = id_of(&book.store);
    assert_ne!(was, now);
    let contents = book.store.contents(book.store.head().unwrap().unwrap(), &|_| {}).unwrap();
    assert_eq!((contents.commits[&first], contents.commits.len()), (was, 2), "each record has the id it had");
    book.git(&["gc", "-q"]);
    assert_eq!(id_of(&Store::open(book.dir()).unwrap()), now);
    let clone = book.temp.path().join("clone");
    git(book.temp.path(), &["clone", "-q", book.dir().to_str().unwrap(), "clone"]);
    assert_eq!(id_of(&Store::open(&clone).unwrap()), now);
    // The same files, another hand: another book.
    git(&clone, &["commit", "-q", "--amend", "--no-edit", "--reset-author"]);
    assert_ne!(id_of(&Store::open(&clone).unwrap()), now);
    let said: Spoken = now.words().join(" ").parse().unwrap();
    assert!(said.is_of(&now) && !said.is_of(&was));
}

#[test]
fn a_long_history_and_a_merge_are_walked_without_end_of_the_stack() {
    let book = Book::empty();
    let done = book.store.record_many(&quick(), &mut |batch| {
        for n in 0..6_000 {
            batch.commit(record(&[("setup.toml", &format!("height = {n}\n"))]))?;
        }
        let side = batch.commit_on(None, record(&[("setup.toml", "height = 1\n")]))?;
        batch.merge(record(&[("setup.toml", "height = 2\n")]), &[side])?;
        Ok(())
    });
    let tip = done.unwrap().id.unwrap();
    // A small stack: what recursed along the history would not come back.
    let dir = book.dir().to_owned();
    let walk = move || Store::open(&dir).unwrap().contents(tip, &|_| {}).unwrap().commits.len();
    let thread = std::thread::Builder::new().stack_size(512 * 1024).spawn(walk).unwrap();
    assert_eq!(thread.join().unwrap(), 6_002);
}

#[test]
fn what_is_missing_or_names_itself_is_an_error() {
    let book = Book::new();
    let tip = book.store.head().unwrap().unwrap();
    let file = |id: &str| book.git_dir().join("objects").join(&id[..2]).join(&id[2..]);
    // A commit that lies under the name of the parent it names.
    let tree = book.git(&["rev-parse", "HEAD^{tree}"]);
    let own = "00112233445566778899aabbccddeeff00112233";
    let text = format!("tree {}\nparent {own}\nauthor A <a> 1 +0000\ncommitter A <a> 1 +0000\n\nx\n", tree.trim());
    std::fs::write(book.dir().join("ring"), text).unwrap();
    let made = book.git(&["hash-object", "-t", "commit", "-w", "--literally", "ring"]);
    std::fs::create_dir_all(file(own).parent().unwrap()).unwrap();
    std::fs::copy(file(made.trim()), file(own)).unwrap();
    let ring = book.store.contents(own.parse().unwrap(), &|_| {});
    assert!(matches!(&ring, Err(StoreError::Damaged { .. })), "{ring:?}");
    // The other way a text is lost.
    let sheet = book.git(&["rev-parse", "HEAD:setup.toml"]);
    std::fs::remove_file(file(sheet.trim())).unwrap();
    let store = Store::open(book.dir()).unwrap();
    let lost = store.contents(tip, &|_| {});
    assert!(matches!(&lost, Err(StoreError::Missing { id }) if id.to_string() == sheet.trim()), "{lost:?}");
}
