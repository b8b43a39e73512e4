-- Facts: one row per thing that an entry says, each with the entry it came from. No balances, no state: those are
-- questions asked of these rows. Dropped and replayed by `rebuild`; replaced whole when their version changes.
-- Times are UTC seconds, masses milligrams, identities the 16 bytes of a UUID.

CREATE TABLE fact_station (
  place   INTEGER PRIMARY KEY,
  name    TEXT NOT NULL,
  shop    TEXT NOT NULL,
  zone    TEXT NOT NULL,
  follows BLOB                          -- station id of the predecessor
) STRICT;

CREATE TABLE fact_shifts (
  place INTEGER PRIMARY KEY
) STRICT;

CREATE TABLE fact_person (
  place  INTEGER PRIMARY KEY,
  person BLOB NOT NULL
) STRICT;
CREATE INDEX fact_person_by_person ON fact_person (person);

CREATE TABLE fact_qualification (
  place  INTEGER PRIMARY KEY,
  welder BLOB NOT NULL
) STRICT;
CREATE INDEX fact_qualification_by_welder ON fact_qualification (welder);

CREATE TABLE fact_wps (
  place INTEGER PRIMARY KEY,
  wps   BLOB NOT NULL
) STRICT;
CREATE INDEX fact_wps_by_wps ON fact_wps (wps);

CREATE TABLE fact_joint (
  place     INTEGER PRIMARY KEY,
  joint     BLOB NOT NULL,
  needed_mg INTEGER
) STRICT;
CREATE INDEX fact_joint_by_joint ON fact_joint (joint);
CREATE INDEX fact_joint_by_need ON fact_joint (joint) WHERE needed_mg IS NOT NULL;

-- A delivery of a lot. `identity` = maker, maker's lot, classification, size, form.
CREATE TABLE fact_lot (
  place     INTEGER PRIMARY KEY,
  lot       BLOB NOT NULL,
  identity  TEXT NOT NULL,
  at_from   INTEGER NOT NULL,
  pieces    INTEGER,
  mg        INTEGER
) STRICT;
CREATE INDEX fact_lot_by_lot ON fact_lot (lot);
CREATE INDEX fact_lot_by_identity ON fact_lot (identity);

CREATE TABLE fact_lot_status (
  place   INTEGER PRIMARY KEY,
  lot     BLOB NOT NULL,
  status  TEXT NOT NULL,
  at_from INTEGER NOT NULL,
  at_to   INTEGER NOT NULL
) STRICT;
CREATE INDEX fact_lot_status_by_lot ON fact_lot_status (lot);

-- A slip begins: from the crib, or (parent) from another slip by hand-over. `running` = n of a number `S-n` that this
-- program gives, so that the next free one is found without counting.
CREATE TABLE fact_slip (
  place       INTEGER PRIMARY KEY,
  slip        BLOB NOT NULL,
  lot         BLOB NOT NULL,
  holder      BLOB NOT NULL,
  parent      BLOB,
  issued_from INTEGER NOT NULL,
  issued_to   INTEGER NOT NULL,
  pieces      INTEGER,
  mg          INTEGER,
  running     INTEGER
) STRICT;
CREATE INDEX fact_slip_by_running ON fact_slip (running) WHERE running IS NOT NULL;
CREATE INDEX fact_slip_by_slip ON fact_slip (slip);
CREATE INDEX fact_slip_by_lot ON fact_slip (lot);
CREATE INDEX fact_slip_by_holder ON fact_slip (holder, issued_from, slip);
CREATE INDEX fact_slip_by_parent ON fact_slip (parent) WHERE parent IS NOT NULL;

-- Metal leaves a slip, and so its holder: a return, a hand-over or a scrap. `credited` = it is stock again.
CREATE TABLE fact_out (
  place    INTEGER PRIMARY KEY,
  slip     BLOB NOT NULL,
  lot      BLOB NOT NULL,
  holder   BLOB NOT NULL,
  way      TEXT NOT NULL,
  closes   INTEGER NOT NULL,
  credited INTEGER NOT NULL,
  at_from  INTEGER NOT NULL,
  at_to    INTEGER NOT NULL,
  pieces   INTEGER,
  mg       INTEGER
) STRICT;
CREATE INDEX fact_out_by_slip ON fact_out (slip, closes, at_to);
CREATE INDEX fact_out_by_lot ON fact_out (lot);
CREATE INDEX fact_out_by_holder ON fact_out (holder, at_to, slip) WHERE closes = 1;

-- From when a slip was out and until when some entry says that it closed: the earliest issue and the latest closing of a
-- holder and a slip, whichever entries stand. Made by taking the least and the greatest, which no order of arrival
-- changes. It only says which slips need no look: those that closed within a week of their issue, long before.
CREATE TABLE fact_span (
  holder      BLOB NOT NULL,
  slip        BLOB NOT NULL,
  issued_from INTEGER,
  closed_to   INTEGER,
  PRIMARY KEY (holder, slip)
) STRICT, WITHOUT ROWID;
CREATE INDEX fact_span_long ON fact_span (holder, issued_from)
  WHERE closed_to IS NULL OR closed_to - issued_from > 604800;

CREATE TABLE fact_clear (
  place   INTEGER PRIMARY KEY,
  welder  BLOB NOT NULL,
  at_from INTEGER NOT NULL,
  at_to   INTEGER NOT NULL
) STRICT;
CREATE INDEX fact_clear_by_welder ON fact_clear (welder);

CREATE TABLE fact_weld (
  place     INTEGER PRIMARY KEY,
  welder    BLOB NOT NULL,
  at_from   INTEGER NOT NULL,
  at_to     INTEGER NOT NULL,
  lot       BLOB,
  slip      BLOB
) STRICT;
CREATE INDEX fact_weld_by_welder ON fact_weld (welder, at_from, at_to);
CREATE INDEX fact_weld_by_length ON fact_weld (welder, at_to - at_from);
CREATE INDEX fact_weld_by_lot ON fact_weld (lot) WHERE lot IS NOT NULL;
CREATE INDEX fact_weld_by_slip ON fact_weld (slip) WHERE slip IS NOT NULL;

CREATE TABLE fact_weld_joint (
  joint BLOB NOT NULL,
  place INTEGER NOT NULL,
  PRIMARY KEY (joint, place)
) STRICT, WITHOUT ROWID;

CREATE TABLE fact_spot_check (
  place   INTEGER PRIMARY KEY,
  joint   BLOB NOT NULL,
  welder  BLOB NOT NULL,
  at_from INTEGER NOT NULL,
  at_to   INTEGER NOT NULL
) STRICT;
CREATE INDEX fact_spot_check_by_joint ON fact_spot_check (joint);
CREATE INDEX fact_spot_check_by_welder ON fact_spot_check (welder);

CREATE TABLE fact_file (
  place  INTEGER NOT NULL,
  name   TEXT NOT NULL,
  sha256 TEXT NOT NULL,
  PRIMARY KEY (sha256, name, place)
) STRICT, WITHOUT ROWID;

-- Metal that is out for good, from the crib. What was scrapped from a slip is in fact_out.
CREATE TABLE fact_scrap (
  place  INTEGER PRIMARY KEY,
  lot    BLOB NOT NULL,
  pieces INTEGER,
  mg     INTEGER
) STRICT;
CREATE INDEX fact_scrap_by_lot ON fact_scrap (lot);

-- Wire that was found without a mark.
CREATE TABLE fact_unmarked (
  place   INTEGER PRIMARY KEY,
  welder  BLOB,
  at_from INTEGER NOT NULL,
  at_to   INTEGER NOT NULL
) STRICT;

CREATE TABLE fact_unmarked_joint (
  joint BLOB NOT NULL,
  place INTEGER NOT NULL,
  PRIMARY KEY (joint, place)
) STRICT, WITHOUT ROWID;

-- An entry that another one strikes: corrects it (void = 0), or says that it never was (void = 1). `target` is an id.
CREATE TABLE fact_correction (
  place  INTEGER PRIMARY KEY,
  target BLOB NOT NULL,
  void   INTEGER NOT NULL
) STRICT;

-- A finding that was looked at and closed.
CREATE TABLE fact_disposition (
  place   INTEGER PRIMARY KEY,
  finding   BLOB NOT NULL,
  re_marked BLOB                        -- lot that the metal was marked with anew
) STRICT;
CREATE INDEX fact_disposition_by_finding ON fact_disposition (finding);
CREATE INDEX fact_disposition_by_lot ON fact_disposition (re_marked) WHERE re_marked IS NOT NULL;

CREATE TABLE fact_note (
  place INTEGER PRIMARY KEY,
  thing BLOB NOT NULL                   -- 16 bytes of an identity, or 32 of an entry's id
) STRICT;
CREATE INDEX fact_note_by_thing ON fact_note (thing);

CREATE TABLE fact_reprint (
  place INTEGER PRIMARY KEY,
  slip  BLOB NOT NULL
) STRICT;
CREATE INDEX fact_reprint_by_slip ON fact_reprint (slip);

-- A certificate in the folder of papers. The lots that it is about are labels of kind `certificate`.
CREATE TABLE fact_certificate (
  place  INTEGER PRIMARY KEY,
  sha256 TEXT NOT NULL
) STRICT;
CREATE INDEX fact_certificate_by_sha256 ON fact_certificate (sha256);

-- What a certificate says of a lot, written down and checked.
CREATE TABLE fact_certificate_read (
  place INTEGER PRIMARY KEY,
  lot   BLOB NOT NULL
) STRICT;
CREATE INDEX fact_certificate_read_by_lot ON fact_certificate_read (lot);

-- What an instrument read. `thing` = the joint, lot or slip, or the 32 bytes of the id of a find; `welder` = whose rod it
-- was, at a joint.
CREATE TABLE fact_metal_read (
  place   INTEGER PRIMARY KEY,
  thing   BLOB NOT NULL,
  welder  BLOB,
  at_from INTEGER NOT NULL,
  at_to   INTEGER NOT NULL
) STRICT;
CREATE INDEX fact_metal_read_by_thing ON fact_metal_read (thing);

-- The shop's own tables of limits, and the sign-offs of tables.
CREATE TABLE fact_table (
  place  INTEGER PRIMARY KEY,
  spec   TEXT NOT NULL,
  sha256 TEXT NOT NULL
) STRICT;

CREATE TABLE fact_table_signed (
  place  INTEGER PRIMARY KEY,
  spec   TEXT NOT NULL,
  sha256 TEXT NOT NULL
) STRICT;

-- What people type: labels by search key. `thing` is what the label means.
CREATE TABLE fact_label (
  kind  TEXT NOT NULL,
  key   TEXT NOT NULL,
  label TEXT NOT NULL,
  thing BLOB NOT NULL,
  place INTEGER NOT NULL,
  PRIMARY KEY (kind, key, label, thing, place)
) STRICT, WITHOUT ROWID;

-- Lot, heat and certificate numbers by the way the eye mistakes them.
CREATE TABLE fact_look_alike (
  kind  TEXT NOT NULL,
  look  TEXT NOT NULL,
  label TEXT NOT NULL,
  place INTEGER NOT NULL,
  PRIMARY KEY (kind, look, label, place)
) STRICT, WITHOUT ROWID;

-- Entries of a kind or shape that this program does not know.
CREATE TABLE fact_not_understood (
  place INTEGER PRIMARY KEY,
  kind  TEXT NOT NULL
) STRICT;
