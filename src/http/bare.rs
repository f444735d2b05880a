//! What hyper refuses by itself: the head of a request that it does not hold. It answers with a status and nothing else, before anything
//! here is asked. On its way out, that answer is given the headers and the body that every problem has.

use std::io::{self, IoSlice};
use std::pin::Pin;
use std::task::{Context, Poll, ready};

use tokio::io::{AsyncRead, AsyncWrite, ReadBuf};

use crate::http::app::App;
use crate::http::problem::{Kind, Problem};

/// A connection's stream, on which bare refusals become problems.
pub struct Worded<S> {
    stream: S,
    app: App,
    instead: Option<Instead>,
}

/// What is written instead of a bare refusal.
struct Instead {
    bytes: Vec<u8>,
    written: usize,
    /// The bytes of the refusal, which count as written once all of this is.
    of: usize,
}

impl<S> Worded<S> {
    /// What `app` tells is told in its words.
    pub fn new(stream: S, app: App) -> Self {
        Self { stream, app, instead: None }
    }
}

/// The problem that a bare refusal stands for. Hyper writes one in a piece, with no body and not with the request id that all answers of
/// this service carry.
fn refusal(head: &[u8]) -> Option<Problem> {
    let problem = match head.get(..13)? {
        b"HTTP/1.1 400 " => Problem::new(Kind::NotHttp, "what came cannot be read as a request of HTTP/1.1"),
        b"HTTP/1.1 414 " => {
            Problem::new(Kind::UriTooLong, "the address is longer than is read; send the document as a body")
        }
        b"HTTP/1.1 431 " => Problem::new(Kind::HeadersTooLarge, "the headers are larger, or more lines, than are read"),
        _ => return None,
    };
    let text = std::str::from_utf8(head).ok()?;
    let bare = text.ends_with("\r\n\r\n") && text.contains(NO_BODY) && !text.contains("x-request-id");
    bare.then_some(problem)
}

const NO_BODY: &str = "\r\ncontent-length: 0";

/// The refusal with its own status line and headers, and all that a problem has.
fn worded(head: &[u8], problem: &Problem, app: &App) -> Vec<u8> {
    let (headers, body) = app.unasked(problem);
    let mut bytes = String::from_utf8_lossy(head).trim_end().replacen(NO_BODY, "", 1).into_bytes();
    for (name, value) in &headers {
        bytes.extend_from_slice(format!("\r\n{name}: ").as_bytes());
        bytes.extend_from_slice(value.as_bytes());
    }
    bytes.extend_from_slice(format!("\r\ncontent-length: {}\r\n\r\n", body.len()).as_bytes());
    bytes.extend_from_slice(&body);
    bytes
}

impl<S: AsyncWrite + Unpin> AsyncWrite for Worded<S> {
    fn poll_write(self: Pin<&mut Self>, context: &mut Context<'_>, bytes: &[u8]) -> Poll<io::Result<usize>> {
        let this = self.get_mut();
        if this.instead.is_none() {
            this.instead = refusal(bytes).map(|problem| Instead {
                bytes: worded(bytes, &problem, &this.app),
                written: 0,
                of: bytes.len(),
            });
        }
        let Some(instead) = &mut this.instead else { return Pin::new(&mut this.stream).poll_write(context, bytes) };
        while instead.written < instead.bytes.len() {
            let rest = &instead.bytes[instead.written..];
            let written = ready!(Pin::new(&mut this.stream).poll_write(context, rest))?;
            if written == 0 {
                return Poll::Ready(Err(io::ErrorKind::WriteZero.into()));
            }
            instead.written += written;
        }
        let of = instead.of;
        this.instead = None;
        Poll::Ready(Ok(of))
    }

    fn poll_write_vectored(
        self: Pin<&mut Self>,
        context: &mut Context<'_>,
        pieces: &[IoSlice<'_>],
    ) -> Poll<io::Result<usize>> {
        match pieces {
            // A refusal has no body and so is one piece.
            [only] => self.poll_write(context, only),
            _ => Pin::new(&mut self.get_mut().stream).poll_write_vectored(context, pieces),
        }
    }

    fn is_write_vectored(&self) -> bool {
        self.stream.is_write_vectored()
    }

    fn poll_flush(self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.get_mut().stream).poll_flush(context)
    }

    fn poll_shutdown(self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.get_mut().stream).poll_shutdown(context)
    }
}

impl<S: AsyncRead + Unpin> AsyncRead for Worded<S> {
    fn poll_read(self: Pin<&mut Self>, context: &mut Context<'_>, into: &mut ReadBuf<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.get_mut().stream).poll_read(context, into)
    }
}

#[cfg(test)]
mod tests {
    use tokio::io::{AsyncReadExt as _, AsyncWriteExt as _};

    use super::{App, Worded};
    use crate::http::settings::Settings;

    /// What goes out of what is written, through a pipe that takes a few bytes at a time.
    async fn out(written: &'static str) -> String {
        let (near, mut far) = tokio::io::duplex(16);
        let mut worded = Worded::new(near, App::new(Settings::default()));
        let writing = tokio::spawn(async move {
            worded.write_all(written.as_bytes()).await.expect("written");
            worded.shutdown().await.expect("closed");
        });
        let mut text = String::new();
        far.read_to_string(&mut text).await.expect("text");
        writing.await.expect("no panic");
        text
    }

    #[tokio::test]
    async fn a_bare_refusal_is_given_a_body() {
        let text = out("HTTP/1.1 414 URI Too Long\r\nconnection: close\r\ncontent-length: 0\r\ndate: x\r\n\r\n").await;
        let (head, body) = text.split_once("\r\n\r\n").expect("a head");
        assert!(head.starts_with("HTTP/1.1 414 URI Too Long\r\nconnection: close\r\ndate: x\r\n"), "{head}");
        assert_eq!(head.matches("content-length").count(), 1, "{head}");
        assert!(head.ends_with(&format!("content-length: {}", body.len())), "{head}");
        assert!(body.contains("/problems/uri-too-long"), "{body}");
    }

    #[tokio::test]
    async fn all_else_goes_out_as_it_is() {
        for text in [
            "HTTP/1.1 400 Bad Request\r\nx-request-id: 1\r\ncontent-length: 0\r\n\r\n",
            "HTTP/1.1 414 URI Too Long\r\nx-request-id: 1\r\ncontent-length: 0\r\n\r\n",
            "HTTP/1.1 414 URI Too Long\r\ncontent-length: 2\r\n\r\n{}",
            "HTTP/1.1 304 Not Modified\r\ncontent-length: 0\r\n\r\n",
            "",
        ] {
            assert_eq!(out(text).await, text);
        }
    }
}
