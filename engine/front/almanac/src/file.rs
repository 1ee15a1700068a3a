//! One table as a file: header, digests of its pages, then the table itself.

use std::fs::File;
use std::io::{self, Read as _, Write};
use std::path::Path;

use dryturn_planning::TableKind;
use memmap2::Mmap;
use sha2::{Digest as _, Sha256};

/// First bytes of every table.
const MAGIC: &[u8; 16] = b"dryturn table 3\n";
/// Bytes of the table's name in the header.
const NAME: usize = 32;
/// Bytes of the table that share a digest.
const PAGE: usize = 1 << 16;
/// Bytes of a page's digest that are kept.
const PAGE_DIGEST: usize = 8;
/// Bytes of the digest over the header.
const HEADER_DIGEST: usize = 32;
/// The table starts at a multiple of this.
const ALIGNMENT: usize = 1 << 12;
/// Pages that are checked when a table is opened.
const SAMPLED: usize = 16;

fn pages(kind: TableKind) -> usize {
    kind.bytes().div_ceil(PAGE)
}

/// Bytes before the table.
fn offset(kind: TableKind) -> usize {
    let header = MAGIC.len() + NAME + 8 + PAGE_DIGEST * pages(kind) + HEADER_DIGEST;
    header.next_multiple_of(ALIGNMENT)
}

fn page_digest(page: &[u8]) -> [u8; PAGE_DIGEST] {
    let mut digest = [0; PAGE_DIGEST];
    digest.copy_from_slice(&Sha256::digest(page)[..PAGE_DIGEST]);
    digest
}

/// The header of a table of a kind, with the digests of its pages, padded.
fn header(kind: TableKind, digests: &[u8]) -> Vec<u8> {
    let mut header = MAGIC.to_vec();
    let mut name = kind.to_string().into_bytes();
    name.resize(NAME, 0);
    header.extend(name);
    header.extend((kind.bytes() as u64).to_le_bytes());
    header.extend(digests);
    let digest = Sha256::digest(&header);
    header.extend(digest);
    header.resize(offset(kind), 0);
    header
}

/// Writes a table with its header.
pub(crate) fn write(kind: TableKind, table: &[u8], out: &mut impl Write) -> io::Result<()> {
    let digests: Vec<u8> = table.chunks(PAGE).flat_map(page_digest).collect();
    out.write_all(&header(kind, &digests))?;
    out.write_all(table)
}

/// A table that is mapped into memory.
pub struct MappedTable {
    map: Mmap,
    offset: usize,
    kind: TableKind,
}

impl AsRef<[u8]> for MappedTable {
    fn as_ref(&self) -> &[u8] {
        &self.map[self.offset..]
    }
}

impl MappedTable {
    /// Opens a table: checks its header and some of its pages.
    ///
    /// # Errors
    /// In a few words, why it cannot be trusted.
    pub(crate) fn open(kind: TableKind, path: &Path) -> Result<Self, String> {
        let mut file = File::open(path).map_err(|error| error.to_string())?;
        let length = file.metadata().map_err(|error| error.to_string())?.len();
        let wanted = (offset(kind) + kind.bytes()) as u64;
        if length != wanted {
            return Err(format!("has {length} bytes, not {wanted}"));
        }
        let mut found = vec![0; offset(kind)];
        file.read_exact(&mut found).map_err(|error| error.to_string())?;
        if !found.starts_with(MAGIC) {
            return Err("is from another version".to_owned());
        }
        let start = MAGIC.len() + NAME + 8;
        let digests = found[start..start + PAGE_DIGEST * pages(kind)].to_vec();
        if header(kind, &digests) != found {
            return Err("has a damaged header".to_owned());
        }
        // SAFETY: a map is only sound while nobody changes the file. Tables are
        // written under another name, under a lock, and moved into place when they
        // are whole; nothing here ever writes to or truncates a file in that place.
        // The folder is the user's own cache, or one that the user names and is told
        // to leave alone meanwhile.
        #[allow(unsafe_code)]
        let map = unsafe { Mmap::map(&file) }.map_err(|error| error.to_string())?;
        let table = Self { map, offset: offset(kind), kind };
        let last = pages(kind) - 1;
        // A wrong index would lead out of the table: all of its pages.
        (0..=kind.index_bytes() / PAGE).try_for_each(|number| table.check_page(number))?;
        (0..SAMPLED).try_for_each(|i| table.check_page(i * last / (SAMPLED - 1)))?;
        Ok(table)
    }

    fn check_page(&self, number: usize) -> Result<(), String> {
        let at = MAGIC.len() + NAME + 8 + PAGE_DIGEST * number;
        let wanted = &self.map[at..at + PAGE_DIGEST];
        let table = self.as_ref();
        let page = &table[number * PAGE..table.len().min((number + 1) * PAGE)];
        if page_digest(page) == wanted {
            Ok(())
        } else {
            Err(format!("is damaged in page {number}"))
        }
    }

    /// Checks every page.
    ///
    /// # Errors
    /// The first damaged page.
    pub fn check(&self) -> Result<(), String> {
        (0..pages(self.kind)).try_for_each(|number| self.check_page(number))
    }
}
