#!/usr/bin/env python3
"""Checks a rodbook record without rodbook; format.md beside this file has the rules. Python 3.9 and `cryptography`.
usage: verify.py BOOK [PIN...]  or  verify.py RECORD.jsonl NOTES [PIN...]    (NOTES: the exported checkpoints)
PIN: STATION:SEQ:ID from a receipt, with 8 to 64 hex digits of the station and a short id or 64 hex digits.
Exit: 0 sound, 5 damage, 2 called wrongly, 1 file not readable."""
import base64, functools, hashlib, json, os, pathlib, re, sqlite3, sys
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey
P, L = 2**255 - 19, 2**252 + 27742317777372353535851937790883648493
Y8 = 0x05FC536D880238B13933C6D305ACDFD5F098EFF289F4C345B027B2C28F95E826  # y of a point of order 8
BAD = re.compile("[\0-\x09\x0b-\x1f\x7f-\x9f\u2028\u2029\ud800-\udfff\ufffe\uffff]")
SEEN, B64 = r'\["[0-9a-f]{64}",[0-9]{1,16},[0-9]{1,16},"[0-9a-f]{64}"\]', "[A-Za-z0-9+/]"
OLD = r'null|\{"id":"[0-9a-f]{64}","seq":[0-9]{1,16},"station":"[0-9a-f]{64}"\}'
SHAPE = {"time": r'"[0-9]{4}(-[0-9]{2}){2}T[0-9]{2}(:[0-9]{2}){2}Z"', "seen": rf"\[({SEEN}(,{SEEN}){{0,63}})?\]", "by": '".*"',
         "kind": r'"[a-z][a-z0-9_.]*(/[1-9][0-9]*)?"', "person": '"([0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12})?"', "body": r"\{.*\}"}
def need(ok, station, n, why):
    if not ok: raise ValueError(f"station {station[:16]} entry {n}: {why}")
def sha(*parts): return hashlib.sha256(b"".join(parts)).digest()
def b64(raw): return base64.b64encode(raw).decode()
def canon(v): return json.dumps(v, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
def short(leaf): return "".join("0123456789ABCDEFGHJKMNPQRSTVWXYZ"[int(leaf[:20], 16) >> 5 * k & 31] for k in range(15, -1, -1))
def signed(key, text, sig):  # Ed25519, strictly: y < P, S < L, neither key nor R of small order
    y, r, s = (int.from_bytes(b, "little") for b in (key, sig[:32], sig[32:]))
    if y % 2**255 >= P or s >= L or {y % 2**255, r % 2**255 % P} & {0, 1, P - 1, Y8, P - Y8}: return False
    try: return Ed25519PublicKey.from_public_bytes(key).verify(sig, text) is None
    except Exception: return False
def plain(v, depth=0):  # what a line may hold
    if isinstance(v, list): return depth < 8 and all(plain(w, depth + 1) for w in v)
    if isinstance(v, dict): return all(re.fullmatch("[a-z][a-z0-9_]{0,31}", k) for k in v) and plain([*v.values()], depth)
    return not BAD.search(v) if isinstance(v, str) else v is None or isinstance(v, int) and abs(v) < 2**53
def parse(st, n, line):
    try: e = json.loads(line.decode()) if type(line) is bytes and len(line) <= 65536 else None
    except (ValueError, RecursionError): e = None
    need(isinstance(e, dict) and plain(e) and canon(e).encode() == line, st, n, "the line is not canonical JSON")
    need({*e} == {*SHAPE, "format", "station", "seq", "prev", "clock"}, st, n, "a field is missing or one too many")
    for k in SHAPE: need(re.fullmatch(SHAPE[k], canon(e[k])), st, n, f"the field {k} is not as the format has it")
    return e
def check_note(st, key, root, size, note):
    text, key_id = f"rodbook/{st}\n{size}\n{b64(root)}\n", sha(f"rodbook/{st}\n\1".encode(), key)[:4]
    need(note.startswith(text + "\n"), st, size - 1, f"rewritten: a checkpoint gives the first {size} entries another root")
    more = rf"(\u2014 [^\s+]+ (?=\S{{8}})({B64}{{4}})*({B64}{{2}}==|{B64}{{3}}=)?\n){{0,16}}"  # not checked further
    found = re.fullmatch(rf"\n\u2014 rodbook/{st} ({B64}{{91}}=)\n{more}", note[len(text):])
    raw = base64.b64decode(found[1]) if found else b""
    ok = found and b64(raw) == found[1] and raw[:4] == key_id and signed(key, text.encode(), raw[4:])
    need(ok, st, size - 1, "its checkpoint is badly signed")
def check_chain(st, rows, notes):  # rows: (key, place in the chain, id, line), None where the file does not say
    ids, clocks, refs, edge, prev, clock, covered = [], [], [], [], "0" * 64, 0, 0
    for n, (stored_key, place, stored_id, line) in enumerate(rows):
        e, leaf, width = parse(st, n, line), sha(b"\0", line), n + 1
        names, clock = [s[0] for s in e["seen"]], 1 + max([clock] + [s[2] for s in e["seen"]])
        for k, v in {"format": "rodbook/1", "station": st, "seq": n, "prev": prev, "clock": clock}.items():
            need(canon(e[k]) == canon(v), st, n, f"{k} is {canon(e[k])} where {canon(v)} belongs")
        need(names == sorted({*names} - {st}), st, n, "seen is not sorted, or names a station twice or its own")
        need((e["kind"] == "station.opened") == (n == 0), st, n, "station.opened is entry 0 and no other")
        if n == 0:
            text, old = str(e["body"].get("key")), e["body"].get("predecessor")
            key = base64.b64decode(text) if re.fullmatch(B64 + "{43}=", text) else b""
            need(b64(key) == text and sha(b"rodbook-station/1\n", key).hex() == st, st, n, "the key is not this station's")
            need(re.fullmatch(OLD, canon(old)), st, n, "the predecessor is not as the format has it")
            refs = [(old["station"], old["seq"], None, old["id"], st, 0)] if old else []
        need(stored_key in (None, key) and place in (None, n) and stored_id in (None, leaf), st, n, "key, place or id beside it differ")
        prev = leaf.hex(); ids.append(prev); clocks.append(clock); edge.append(leaf); refs += [(*s, st, n) for s in e["seen"]]
        while width % 2 == 0: edge[-2:], width = [sha(b"\1", *edge[-2:])], width // 2
        for note in notes.pop((f"rodbook/{st}", str(n + 1)), ()):
            check_note(st, key, functools.reduce(lambda right, left: sha(b"\1", left, right), edge[::-1]), n + 1, note)
            covered = n + 1
    for origin, size in notes: need(origin != f"rodbook/{st}", st, len(ids), f"missing: a checkpoint covers {size} entries")
    need(covered == len(ids), st, covered, "no checkpoint covers it")
    return ids, clocks, refs
def load(book, notes_file=os.devnull):  # {station: rows}, {(origin, size): notes}
    data, texts, st, rest = open(book, "rb").read(), [open(notes_file, "rb").read().decode()], "", b""
    chains, notes = {}, {}
    if data[:16] == b"SQLite format 3\0":
        db = sqlite3.connect(pathlib.Path(book).absolute().as_uri() + "?mode=ro", uri=True)
        rows = db.execute("SELECT lower(hex(s.id)), public_key, place & 1099511627775, e.id, line FROM entry e "
                          "LEFT JOIN station s ON s.no = place >> 40 ORDER BY place").fetchall()
        texts += [note for note, in db.execute("SELECT note FROM checkpoint")]
        for st, *row in rows: chains.setdefault(st, []).append(row)
    else:
        *lines, rest = data.split(b"\n")
        for line in lines:  # a line that does not end as an entry does counts to the station before it
            st = (re.findall(rb'"station":"([0-9a-f]{64})","time":"[^"]*"}\Z', line) or [st.encode()])[0].decode()
            chains.setdefault(st, []).append((None, None, None, line))
    need(chains and not rest, st, len(chains.get(st, [])), "missing, or its line has no end")
    for note in [part for text in texts for part in re.split("(?<=\n)\n(?=rodbook/)", text) if part]:
        notes.setdefault((*note.split("\n"), "")[:2], set()).add(note)
    return chains, notes
def check(files, pins):
    (chains, notes), outside = load(*files), {}
    done = {st: check_chain(st, rows, notes) for st, rows in chains.items()}
    for origin, size in notes: need(False, origin[8:], 0, f"missing, or what begins with {origin[:80]!r} is no checkpoint")
    refs = [ref for _, _, chain_refs in done.values() for ref in chain_refs]
    for st, seq, clock, leaf, by, n in refs:
        same = st not in done or done[st][0][seq:seq + 1] == [leaf] and clock in (None, done[st][1][seq])
        need(same, st, seq, f"missing, or not the one that station {by[:16]} saw at its entry {n}")
    for name, seq, typed in [pin.split(":") for pin in pins]:
        st = next((s for s in done if s.startswith(name.lower())), name)
        leaf = "".join(done[st][0][int(seq):int(seq) + 1]) if st in done else ""
        same = typed.lower() == leaf or leaf and typed.upper().translate(str.maketrans("OIL", "011", "- ")) == short(leaf)
        need(same, st, seq, "missing, or not the one on the receipt"); outside[st] = max(int(seq), outside.get(st, 0))
    for st, (ids, _, _) in done.items():
        print(f"station {st}: {len(ids)} entries, all signed, head entry {len(ids) - 1} {ids[-1]} ({short(ids[-1])});",
              f"receipts given here fix entries 0 to {outside[st]}" if st in outside else "no receipt given")
    for st in sorted({ref[0] for ref in refs} - {*done}): print(f"station {st}: named in the record, but not in this file")
    print("Sound: lines, chains, clocks, trees and signatures agree. Not shown: that an entry was true when typed, that every act\n"
          "was entered, who typed it or when, and that a key holder rewrote nothing after the last entry a receipt fixes.")
if __name__ == "__main__":
    PINS = [a for a in sys.argv[1:] if re.fullmatch("[0-9a-fA-F]{8,64}:[0-9]{1,15}:[^:]+", a)]
    FILES = [a for a in sys.argv[1:] if a not in PINS]
    if len(FILES) not in (1, 2) or FILES[0].startswith("-"): sys.exit(print(__doc__) or 2)
    try: check(FILES, PINS)
    except OSError as e: sys.exit(print("not readable:", e) or 1)
    except Exception as e: sys.exit(print("DAMAGE:", e) or 5)
