//! A file that was made for one caller, in the pieces that its reader takes.

use std::fs::File;

use futures::Stream;
use tokio::io::AsyncReadExt as _;

use crate::budget::Held;
use crate::error::Error;

/// Bytes of one piece.
const PIECE: usize = 64 * 1024;

/// The pieces of a file, each read when the one before has gone out. A reader that stands still keeps a piece in memory, and the rest of the file on the disk within its budget.
pub(crate) fn parts(file: File, held: Held) -> impl Stream<Item = Result<Vec<u8>, Error>> + Send {
    let file = tokio::fs::File::from_std(file);
    futures::stream::try_unfold((file, held), |(mut file, held)| async move {
        let mut piece = Vec::with_capacity(PIECE);
        while piece.len() < PIECE && file.read_buf(&mut piece).await.map_err(Error::internal)? > 0 {}
        Ok((!piece.is_empty()).then_some((piece, (file, held))))
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::budget::ByteBudget;
    use futures::TryStreamExt as _;
    use std::io::{Seek as _, Write as _};

    #[tokio::test]
    async fn a_file_comes_whole_and_holds_its_bytes_until_its_end() {
        let budget = ByteBudget::new(4 * PIECE, "files");
        let bytes: Vec<u8> = (0..2 * PIECE).map(|at| u8::try_from(at % 251).unwrap()).collect();
        let mut file = tempfile::tempfile().unwrap();
        file.write_all(&bytes).unwrap();
        file.rewind().unwrap();
        let mut held = budget.begin("reader");
        held.more(bytes.len()).unwrap();
        let stream = parts(file, held);
        assert!(budget.begin("reader").more(1).is_err());
        assert_eq!(stream.try_concat().await.unwrap(), bytes);
        budget.begin("reader").more(1).unwrap();
    }
}
