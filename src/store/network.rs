//! A book over https without an installed git: what the server sends is laid down as the bundle it would be on a stick, and
//! then looked at like any stranger's. Nothing of it is unpacked here, and no program is started.
use std::fs::{File, OpenOptions};
use std::io::{BufRead, Read, Write};
use std::ops::ControlFlow;
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::mpsc;

use gix::bstr::BString;
use gix::protocol::fetch::{Arguments, Response};
use gix::protocol::transport::client::blocking_io::http::reqwest::Remote;
use gix::protocol::transport::client::blocking_io::http::{
    self, GetResponse, Http, PostBodyDataKind, PostResponse, connect_http,
};
use gix::protocol::transport::client::blocking_io::{Transport, TransportV2Ext};
use gix::protocol::transport::client::{Account, TransportWithoutIO};
use gix::protocol::transport::{Protocol, Service};

use super::bundle;
use super::refs::BRANCH;
use super::types::io;
use super::{Id, Limits, StoreError};

/// The most a server may say before the pack, in bytes: ours is one line of some sixty.
const MOST_SAID: u64 = 256 << 10;

/// How this program is called in front of a server.
const AGENT: &str = concat!("slipbook/", env!("CARGO_PKG_VERSION"));

/// Brings the branch `main` of an https address into a new file, as a bundle. Within the limits of time and bytes; the
/// bundle is not looked at yet.
///
/// # Errors
/// [`StoreError::Unreachable`], also where the server has no such branch or wants a name and password that the address does
/// not have; where the file cannot be written, that.
pub fn bring(address: &str, to: &Path, limits: &Limits) -> Result<(), StoreError> {
    let (done, wait) = mpsc::channel();
    let stop = Arc::new(AtomicBool::new(false));
    let carried = {
        let (address, to, most, stop) = (address.to_owned(), to.to_owned(), limits.file_bytes, Arc::clone(&stop));
        move || done.send(carry(&address, &to, most, &stop))
    };
    // A server that says nothing at all is given up: the thread that waits for it ends with the program.
    std::thread::spawn(carried);
    wait.recv_timeout(limits.time).unwrap_or_else(|_| {
        stop.store(true, Ordering::Relaxed);
        Err(unreachable(format!("it took longer than {} s", limits.time.as_secs())))
    })
}

fn unreachable(why: impl Into<Box<dyn std::error::Error>>) -> StoreError {
    let why = why.into();
    // What lies behind it often says more.
    let all = std::iter::successors(Some(&*why), |e| e.source()).map(ToString::to_string);
    let mut told: Vec<String> = Vec::new();
    for one in all.filter(|one| !one.is_empty()) {
        if !told.iter().any(|t| t.contains(&one)) {
            told.push(one);
        }
    }
    StoreError::Unreachable { why: told.join(": ") }
}

fn carry(address: &str, to: &Path, most: u64, stop: &AtomicBool) -> Result<(), StoreError> {
    let url = gix::url::parse(address).map_err(unreachable)?;
    let account = url.user().zip(url.password()).map(|(username, password)| Account {
        username: username.to_owned(),
        password: password.to_owned(),
        oauth_refresh_token: None,
    });
    let left = Arc::new(AtomicU64::new(MOST_SAID));
    let mut server =
        connect_http(Counted { remote: Remote::default(), left: Arc::clone(&left) }, url, Protocol::V2, false);
    let options = http::Options { user_agent: Some(AGENT.to_owned()), ..http::Options::default() };
    server.configure(&options).map_err(unreachable)?;
    if let Some(account) = account {
        server.set_identity(account).map_err(unreachable)?;
    }
    let greeting = server.handshake(Service::UploadPack, &[]).map_err(unreachable)?;
    if greeting.actual_protocol != Protocol::V2 {
        return Err(unreachable("its server does not speak version 2 of git's protocol"));
    }
    drop(greeting);
    let agent = || ("agent", Some(AGENT.to_owned()));
    let tip = tip(&mut server, agent())?;
    left.store(MOST_SAID, Ordering::Relaxed);
    let mut wanted = Arguments::new(Protocol::V2, vec![agent()], false);
    wanted.want(tip.git());
    let mut pack = wanted.send(&mut server, true).map_err(unreachable)?;
    let answer = Response::from_line_reader(Protocol::V2, &mut pack, true, false).map_err(unreachable)?;
    if !answer.has_pack() {
        return Err(unreachable("its server sent no pack"));
    }
    left.store(most, Ordering::Relaxed);
    // Data and what the server says of its progress come in one stream: with a handler they are told apart.
    pack.set_progress_handler(Some(Box::new(|_, _| match stop.load(Ordering::Relaxed) {
        true => ControlFlow::Break(()),
        false => ControlFlow::Continue(()),
    })));
    let mut file = OpenOptions::new().write(true).create_new(true).open(to).map_err(io("write", to))?;
    file.write_all(bundle::head(tip).as_bytes()).map_err(io("write", to))?;
    lay_down(&mut pack, &mut file, to)
}

/// The commit the branch `main` is at.
fn tip(server: &mut impl Transport, agent: (&'static str, Option<String>)) -> Result<Id, StoreError> {
    let asked = BString::from(format!("ref-prefix {BRANCH}"));
    let mut refs =
        server.invoke("ls-refs", [agent].into_iter(), Some([asked].into_iter()), false).map_err(unreachable)?;
    let (mut line, mut tip) = (String::new(), None);
    // An answer is read to its end before anything else is asked.
    while refs.readline_str(&mut line).map_err(unreachable)? != 0 {
        let mut words = line.split_whitespace();
        if let (Some(id), Some(BRANCH)) = (words.next(), words.next()) {
            let wrong = |_| unreachable(format!("its server says `{id}` for an id of {BRANCH}"));
            tip = Some(id.parse().map_err(wrong)?);
        }
        line.clear();
    }
    tip.ok_or_else(|| unreachable(format!("there is no {BRANCH}")))
}

fn lay_down(pack: &mut dyn BufRead, file: &mut File, to: &Path) -> Result<(), StoreError> {
    loop {
        let bytes = pack.fill_buf().map_err(unreachable)?;
        if bytes.is_empty() {
            return Ok(());
        }
        file.write_all(bytes).map_err(io("write", to))?;
        let read = bytes.len();
        pack.consume(read);
    }
}

/// A connection of which only so many bytes are read.
struct Counted {
    remote: Remote,
    left: Arc<AtomicU64>,
}

/// What is read through one.
struct AtMost<R> {
    from: R,
    left: Arc<AtomicU64>,
}

impl Counted {
    fn at_most<R>(&self, from: R) -> AtMost<R> {
        AtMost { from, left: Arc::clone(&self.left) }
    }
}

impl<R: BufRead> Read for AtMost<R> {
    fn read(&mut self, out: &mut [u8]) -> std::io::Result<usize> {
        let read = self.fill_buf()?.read(out)?;
        self.consume(read);
        Ok(read)
    }
}

impl<R: BufRead> BufRead for AtMost<R> {
    fn fill_buf(&mut self) -> std::io::Result<&[u8]> {
        let left = self.left.load(Ordering::Relaxed);
        let bytes = self.from.fill_buf()?;
        if left == 0 && !bytes.is_empty() {
            return Err(std::io::Error::other("its server sends more than it may"));
        }
        Ok(&bytes[..bytes.len().min(usize::try_from(left).unwrap_or(usize::MAX))])
    }

    fn consume(&mut self, read: usize) {
        self.from.consume(read);
        self.left.fetch_sub(read as u64, Ordering::Relaxed);
    }
}

impl Http for Counted {
    type Headers = AtMost<<Remote as Http>::Headers>;
    type ResponseBody = AtMost<<Remote as Http>::ResponseBody>;
    type PostBody = <Remote as Http>::PostBody;

    fn get(
        &mut self,
        url: &str,
        base_url: &str,
        headers: impl IntoIterator<Item = impl AsRef<str>>,
    ) -> gix::Result<GetResponse<Self::Headers, Self::ResponseBody>> {
        let GetResponse { headers, body } = self.remote.get(url, base_url, headers)?;
        Ok(GetResponse { headers: self.at_most(headers), body: self.at_most(body) })
    }

    fn post(
        &mut self,
        url: &str,
        base_url: &str,
        headers: impl IntoIterator<Item = impl AsRef<str>>,
        body: PostBodyDataKind,
    ) -> gix::Result<PostResponse<Self::Headers, Self::ResponseBody, Self::PostBody>> {
        let PostResponse { post_body, headers, body } = self.remote.post(url, base_url, headers, body)?;
        Ok(PostResponse { post_body, headers: self.at_most(headers), body: self.at_most(body) })
    }

    fn configure(&mut self, config: &dyn std::any::Any) -> gix::Result {
        self.remote.configure(config)
    }

    fn redirected_base_url(&self) -> Option<String> {
        self.remote.redirected_base_url()
    }
}
