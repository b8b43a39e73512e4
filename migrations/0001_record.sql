-- The record: what is hashed, and what stands beside it. Numbered, never edited once released.

-- Stations whose chains are in this book. `no` is local to this file; `id` is the name everywhere else.
CREATE TABLE station (
  no         INTEGER PRIMARY KEY CHECK (no BETWEEN 1 AND 4194303),
  id         BLOB NOT NULL UNIQUE CHECK (length(id) = 32),
  public_key BLOB NOT NULL CHECK (length(public_key) = 32)
) STRICT;

-- The log. place = station.no * 2^40 + seq, so one key gives the station's chain in order.
-- `line` is the exact bytes that were hashed; `id` is SHA-256(0x00 || line).
CREATE TABLE entry (
  place   INTEGER PRIMARY KEY,
  id      BLOB NOT NULL CHECK (length(id) = 32),
  clock   INTEGER NOT NULL,
  line    BLOB NOT NULL,
  station INTEGER GENERATED ALWAYS AS (place >> 40) VIRTUAL,
  seq     INTEGER GENERATED ALWAYS AS (place & 1099511627775) VIRTUAL
) STRICT;
CREATE UNIQUE INDEX entry_by_id ON entry (id);

-- Guard rails, not proof: the chain is the proof. recursive_triggers=ON keeps INSERT OR REPLACE out as well.
CREATE TRIGGER entry_no_update BEFORE UPDATE ON entry
BEGIN SELECT RAISE(ABORT, 'the record is append-only: entries are never changed'); END;
CREATE TRIGGER entry_no_delete BEFORE DELETE ON entry
BEGIN SELECT RAISE(ABORT, 'the record is append-only: entries are never removed'); END;
CREATE TRIGGER entry_dense BEFORE INSERT ON entry
WHEN EXISTS (SELECT 1 FROM entry WHERE place = NEW.place OR id = NEW.id)
  OR (NEW.place & 1099511627775 <> 0 AND NOT EXISTS (SELECT 1 FROM entry WHERE place = NEW.place - 1))
BEGIN SELECT RAISE(ABORT, 'the record is append-only: the next entry is the last one plus one'); END;

-- Signed tree heads (C2SP checkpoints). `place` is that of the last entry covered. Kept: the latest of each
-- station, and the last of each day.
CREATE TABLE checkpoint (
  place INTEGER PRIMARY KEY,
  day   TEXT NOT NULL,
  note  TEXT NOT NULL
) STRICT;

-- Right edge of each station's Merkle tree, so that signing a new head does not read the whole chain.
CREATE TABLE tree_edge (
  station INTEGER PRIMARY KEY,
  size    INTEGER NOT NULL,
  edge    BLOB NOT NULL
) STRICT;

-- Which station writes here, and with which facts the derived tables were made.
CREATE TABLE book (
  one           INTEGER PRIMARY KEY CHECK (one = 1),
  own_station   INTEGER NOT NULL REFERENCES station (no),
  facts_version INTEGER NOT NULL
) STRICT;

-- Names of people. Not in the chain, and may be erased: the chain holds SHA-256(salt || name).
CREATE TABLE person_name (
  place INTEGER PRIMARY KEY,
  name  TEXT NOT NULL,
  salt  BLOB NOT NULL CHECK (length(salt) = 32)
) STRICT;
