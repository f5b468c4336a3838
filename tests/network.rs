//! A book over http without an installed git on this side: what stock git serves (`git http-backend`, the smart protocol of
//! gitprotocol-http) is brought as a bundle, and what no server should send is refused within bounds.
use std::io::{BufRead, BufReader, Read, Write};
use std::net::{TcpListener, TcpStream};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use slipbook::store::{Limits, StoreError, bring};

mod store_support;
use store_support::*;

/// Answers each request by `answer` of its first line, its headers and its body.
fn served(answer: impl Fn(&str, &[String], Vec<u8>, &mut TcpStream) + Send + Sync + 'static) -> String {
    let listener = TcpListener::bind("127.0.0.1:0").unwrap();
    let port = listener.local_addr().unwrap().port();
    let answer = std::sync::Arc::new(answer);
    std::thread::spawn(move || {
        for stream in listener.incoming().flatten() {
            let answer = answer.clone();
            std::thread::spawn(move || {
                let mut lines = BufReader::new(stream.try_clone().unwrap());
                let mut head: Vec<String> = Vec::new();
                let mut line = String::new();
                while lines.read_line(&mut line).is_ok_and(|n| n > 0) && !line.trim().is_empty() {
                    head.push(std::mem::take(&mut line).trim().to_owned());
                }
                let length = header(&head, "content-length").and_then(|v| v.parse().ok()).unwrap_or(0);
                let mut body = vec![0; length];
                lines.read_exact(&mut body).unwrap();
                if let Some(first) = head.first().cloned() {
                    answer(&first, &head[1..], body, &mut stream.try_clone().unwrap());
                }
            });
        }
    });
    format!("http://127.0.0.1:{port}")
}

fn header(head: &[String], name: &str) -> Option<String> {
    let of = |line: &String| line.split_once(':').map(|(n, v)| (n.to_lowercase(), v.trim().to_owned()));
    head.iter().filter_map(of).find(|(n, _)| n == name).map(|(_, v)| v)
}

fn said(stream: &mut TcpStream, status: &str, kind: &str, body: &[u8]) {
    let head = format!(
        "HTTP/1.1 {status}\r\nContent-Type: {kind}\r\nContent-Length: {}\r\nConnection: close\r\n\r\n",
        body.len()
    );
    let _ = stream.write_all(head.as_bytes()).and_then(|()| stream.write_all(body));
}

/// Stock git behind http, for the books below a folder.
fn stock(root: &Path) -> String {
    let root = root.to_owned();
    served(move |first, head, body, stream| {
        let words: Vec<&str> = first.split(' ').collect();
        let (path, query) = words[1].split_once('?').unwrap_or((words[1], ""));
        let mut git = Command::new("git");
        git.arg("http-backend").env("GIT_PROJECT_ROOT", &root).env("GIT_HTTP_EXPORT_ALL", "1");
        git.env("REQUEST_METHOD", words[0]).env("PATH_INFO", path).env("QUERY_STRING", query);
        git.env("REMOTE_ADDR", "127.0.0.1").env("CONTENT_LENGTH", body.len().to_string());
        git.env("CONTENT_TYPE", header(head, "content-type").unwrap_or_default());
        git.env("GIT_PROTOCOL", header(head, "git-protocol").unwrap_or_default());
        git.env("GIT_CONFIG_COUNT", "1").env("GIT_CONFIG_KEY_0", "safe.directory").env("GIT_CONFIG_VALUE_0", "*");
        let mut child = git.stdin(Stdio::piped()).stdout(Stdio::piped()).spawn().unwrap();
        child.stdin.take().unwrap().write_all(&body).unwrap();
        let out = child.wait_with_output().unwrap().stdout;
        let end = out.windows(4).position(|w| w == b"\r\n\r\n").unwrap();
        let lines: Vec<String> = String::from_utf8_lossy(&out[..end]).lines().map(str::to_owned).collect();
        let status = header(&lines, "status").unwrap_or_else(|| "200 OK".to_owned());
        said(stream, &status, &header(&lines, "content-type").unwrap_or_default(), &out[end + 4..]);
    })
}

fn limits() -> Limits {
    Limits { time: Duration::from_secs(20), ..Limits::default() }
}

/// A book of forty records, and where its bundle is to go.
fn book() -> (Book, PathBuf) {
    let book = Book::new();
    for i in 0..40 {
        book.put(&[("setup.toml", &format!("height = 0.{i:02} # in\n"))]);
    }
    let to = book.temp.path().join("brought");
    (book, to)
}

fn why(result: Result<(), StoreError>) -> String {
    match result {
        Err(StoreError::Unreachable { why }) => why,
        other => panic!("{other:?}"),
    }
}

#[test]
fn a_served_book_is_brought_as_a_bundle() {
    let (book, to) = book();
    let address = format!("{}/book/.git", stock(book.temp.path()));
    bring(&address, &to, &limits()).unwrap();
    let file = to.to_str().unwrap();
    book.git(&["bundle", "verify", "-q", file]);
    git(book.temp.path(), &["clone", "-q", file, "again"]);
    let ids = |dir: &str| git(&book.temp.path().join(dir), &["rev-list", "--objects", "main"]);
    assert_eq!(ids("again"), ids("book"));
}

#[test]
fn a_password_is_given_to_nobody_in_clear() {
    let (book, to) = book();
    let asked = std::sync::Arc::new(std::sync::Mutex::new(Vec::new()));
    let seen = asked.clone();
    let address = served(move |first, head, _, stream| {
        seen.lock().unwrap().push(format!("{first} {head:?}"));
        let kind = "WWW-Authenticate: Basic realm=\"x\"\r\nContent-Length: 0\r\nConnection: close";
        let _ = stream.write_all(format!("HTTP/1.1 401 No\r\n{kind}\r\n\r\n").as_bytes());
    });
    // Nothing of this program asks for a name: what wants one is refused.
    let told = why(bring(&format!("{address}/book/.git"), &to, &limits()));
    assert!(!told.is_empty());
    assert_eq!(asked.lock().unwrap().len(), 1);
    let told = why(bring(&address.replace("//", "//ro:secret@"), &to, &limits()));
    assert!(told.contains("clear text") && !told.contains("secret"), "{told}");
    assert_eq!(asked.lock().unwrap().len(), 1, "it was not even asked");
    assert!(!to.exists());
    drop(book);
}

#[test]
fn what_is_not_there_is_said() {
    let (book, to) = book();
    let address = stock(book.temp.path());
    assert!(!why(bring(&format!("{address}/other/.git"), &to, &limits())).is_empty());
    book.git(&["branch", "-m", "main", "elsewhere"]);
    let told = why(bring(&format!("{address}/book/.git"), &to, &limits()));
    assert_eq!(told, "there is no refs/heads/main");
    drop(book);
    assert!(!why(bring("http://127.0.0.1:9/nobody", &to, &limits())).is_empty());
    assert!(!to.exists());
}

#[test]
fn no_more_is_read_than_may_be() {
    let (book, to) = book();
    let address = format!("{}/book/.git", stock(book.temp.path()));
    let told = why(bring(&address, &to, &Limits { file_bytes: 1000, ..limits() }));
    assert!(told.contains("more than it may"), "{told}");
    assert!(std::fs::metadata(&to).unwrap().len() < 2000);
}

#[test]
fn a_server_that_never_ends_its_greeting_is_left() {
    let temp = tempfile::tempdir().unwrap();
    let address = served(|_, _, _, stream| {
        let head = "HTTP/1.1 200 OK\r\nContent-Type: application/x-git-upload-pack-advertisement\r\n\r\n";
        let _ = stream.write_all(head.as_bytes());
        let _ = stream.write_all(b"001e# service=git-upload-pack\n0000000eversion 2\n");
        while stream.write_all(b"0010ab=cdefghij\n").is_ok() {}
    });
    let told = why(bring(&address, &temp.path().join("x"), &limits()));
    assert!(told.contains("more than it may"), "{told}");
}

#[test]
fn a_server_that_lists_refs_without_end_is_left() {
    let temp = tempfile::tempdir().unwrap();
    let address = served(|first, _, _, stream| {
        if first.starts_with("GET") {
            let greeting = b"001e# service=git-upload-pack\n0000000eversion 2\n000cls-refs\n000afetch\n0000";
            said(stream, "200 OK", "application/x-git-upload-pack-advertisement", greeting);
            return;
        }
        let head = "HTTP/1.1 200 OK\r\nContent-Type: application/x-git-upload-pack-result\r\n\r\n";
        let _ = stream.write_all(head.as_bytes());
        let line = format!("003e{} refs/heads/other\n", "1".repeat(40));
        while stream.write_all(line.as_bytes()).is_ok() {}
    });
    let told = why(bring(&address, &temp.path().join("x"), &limits()));
    assert!(told.contains("more than it may"), "{told}");
}

#[test]
fn a_server_of_another_kind_or_of_none_is_refused() {
    let temp = tempfile::tempdir().unwrap();
    let to = temp.path().join("x");
    for body in [&b"<html>hello</html>"[..], b"", b"001e# service=git-upload-pack\n0000", b"zzzz", b"ffff"] {
        let body = body.to_vec();
        let kind = "application/x-git-upload-pack-advertisement";
        let address = served(move |_, _, _, stream| said(stream, "200 OK", kind, &body));
        assert!(!why(bring(&address, &to, &limits())).is_empty());
        let address = served(|_, _, _, stream| said(stream, "200 OK", "text/html", b"<html>hello</html>"));
        assert!(!why(bring(&address, &to, &limits())).is_empty());
    }
    assert!(!to.exists());
}

#[test]
fn a_server_that_says_nothing_is_given_up() {
    let temp = tempfile::tempdir().unwrap();
    let address = served(|_, _, _, stream| {
        let mut rest = Vec::new();
        let _ = stream.read_to_end(&mut rest);
    });
    let began = Instant::now();
    let told = why(bring(&address, &temp.path().join("x"), &Limits { time: Duration::from_secs(1), ..limits() }));
    assert_eq!(told, "it took longer than 1 s");
    assert!(began.elapsed() < Duration::from_secs(10));
}
