//! A connection that does not wait for ever on a client that takes nothing in.
//!
//! A client that never reads fills its own buffers and the system's, and then every further byte
//! waits. So a write that has waited for long ends the connection, and with it whatever was held
//! for that client. Reading is not watched here: the head of a request has its own limit.

use std::{
    future::Future,
    io,
    pin::Pin,
    task::{Context, Poll},
    time::Duration,
};
use tokio::{
    io::{AsyncRead, AsyncWrite, ReadBuf},
    time::{Sleep, sleep},
};

/// A connection whose writes may wait for so long and no longer.
pub(super) struct Patient<S> {
    stream: S,
    patience: Duration,
    /// Since a write waits; none while none does.
    waiting: Option<Pin<Box<Sleep>>>,
}

impl<S> Patient<S> {
    pub(super) fn new(stream: S, patience: Duration) -> Self {
        Self { stream, patience, waiting: None }
    }

    /// Passes on how a write went, unless it has waited too long.
    fn within_patience<T>(
        &mut self,
        context: &mut Context<'_>,
        went: Poll<io::Result<T>>,
    ) -> Poll<io::Result<T>> {
        if went.is_ready() {
            self.waiting = None;
            return went;
        }
        let patience = self.patience;
        let waiting = self.waiting.get_or_insert_with(|| Box::pin(sleep(patience)));
        match waiting.as_mut().poll(context) {
            Poll::Pending => Poll::Pending,
            Poll::Ready(()) => Poll::Ready(Err(io::ErrorKind::TimedOut.into())),
        }
    }
}

impl<S: AsyncRead + Unpin> AsyncRead for Patient<S> {
    fn poll_read(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
        buffer: &mut ReadBuf<'_>,
    ) -> Poll<io::Result<()>> {
        Pin::new(&mut self.stream).poll_read(context, buffer)
    }
}

impl<S: AsyncWrite + Unpin> AsyncWrite for Patient<S> {
    fn poll_write(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
        bytes: &[u8],
    ) -> Poll<io::Result<usize>> {
        let went = Pin::new(&mut self.stream).poll_write(context, bytes);
        self.within_patience(context, went)
    }

    fn poll_flush(mut self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<io::Result<()>> {
        let went = Pin::new(&mut self.stream).poll_flush(context);
        self.within_patience(context, went)
    }

    fn poll_shutdown(mut self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.stream).poll_shutdown(context)
    }

    fn poll_write_vectored(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
        pieces: &[io::IoSlice<'_>],
    ) -> Poll<io::Result<usize>> {
        let went = Pin::new(&mut self.stream).poll_write_vectored(context, pieces);
        self.within_patience(context, went)
    }

    fn is_write_vectored(&self) -> bool {
        self.stream.is_write_vectored()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use tokio::io::{AsyncReadExt, AsyncWriteExt, duplex};

    #[tokio::test(start_paused = true)]
    async fn a_write_that_nobody_takes_ends_and_one_that_moves_does_not() {
        let patience = Duration::from_secs(30);
        let (mut reader, stream) = duplex(8);
        let mut patient = Patient::new(stream, patience);
        let reading = tokio::spawn(async move {
            // A byte each twenty seconds is slow, but it moves.
            for _ in 0..8 {
                sleep(Duration::from_secs(20)).await;
                reader.read_u8().await.unwrap();
            }
            reader
        });
        patient.write_all(&[0; 16]).await.unwrap();
        let reader = reading.await.unwrap();
        let refused = patient.write_all(&[0; 16]).await.unwrap_err();
        assert_eq!(refused.kind(), io::ErrorKind::TimedOut);
        drop(reader);
    }
}
