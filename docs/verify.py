#!/usr/bin/env python3
"""Checks a rodbook record without rodbook; format.md beside this file has the rules. Python 3.9 and `cryptography`.
usage: verify.py BOOK [PIN...]  or  verify.py RECORD.jsonl NOTES [PIN...]    NOTES: the exported checkpoints
PIN: STATION:SEQ:ID as on a receipt    exit: 0 sound, 5 damage, 2 called wrongly, 1 file not readable"""
import base64, contextlib, datetime, functools, hashlib, json, os, pathlib, re, sqlite3, sys
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey as PublicKey
P, L = 2**255 - 19, 2**252 + 27742317777372353535851937790883648493
Y8 = 0x05FC536D880238B13933C6D305ACDFD5F098EFF289F4C345B027B2C28F95E826  # y of a point of order 8
BAD, HEX, NUM = "[\0-\x09\x0b-\x1f\x7f-\x9f\u2028\u2029\ud800-\udfff\ufffe\uffff]", '"[0-9a-f]{64}"', "[0-9]{1,16}"
B64, OLD = "([A-Za-z0-9+/]{%d}[AEIMQUYcgkosw048]=)", rf'null|\{{"id":{HEX},"seq":{NUM},"station":{HEX}\}}'
FIELDS = dict(format='"rodbook/1"', station=HEX, seq=NUM, person='"([0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12})?"',
    prev=HEX, clock=NUM, body=r"\{.*\}", by='".*"', kind=r'"(?!station\.opened")[a-z][a-z0-9_.]*(/[1-9][0-9]*)?"',
    seen=rf"\[(\[{HEX},{NUM},{NUM},{HEX}\],?){{0,64}}\]", time='"[0-9]{4}(-[0-9]{2}){2}T[0-9]{2}(:[0-9]{2}){2}Z"')
FIRST = dict(kind='"station.opened"', key=f'"{B64 % 42}"', predecessor=OLD)  # of entry 0; B64 in its one spelling
def need(ok, station, n, why):
    if not ok: raise ValueError(f"station {station[:16]} entry {n}: {why}")
def sha(*parts): return hashlib.sha256(b"".join(parts)).digest()
def canon(v): return json.dumps(v, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
def short(i): return "".join("0123456789ABCDEFGHJKMNPQRSTVWXYZ"[int(i[:20], 16) >> k & 31] for k in range(75, -1, -5))
def plain(v, depth=0):  # what a line may hold
    if type(v) is list: return depth < 8 and all(plain(w, depth + 1) for w in v)
    if type(v) is dict: return all(re.fullmatch("[a-z][a-z0-9_]{0,31}", k) for k in v) and plain([*v.values()], depth)
    return not re.search(BAD, v) if type(v) is str else v is None or isinstance(v, int) and abs(v) < 2**53
def check_note(st, key, edge, n, note):  # byte for byte, Ed25519 strictly; what further signature lines say is open
    name, root, good = f"rodbook/{st}", functools.reduce(lambda right, left: sha(b"\1", left, right), edge[::-1]), False
    text = f"{name}\n{n + 1}\n{base64.b64encode(root).decode()}\n"
    need(note.startswith(text), st, n, f"rewritten: a checkpoint gives the first {n + 1} entries another root")
    found = re.fullmatch(rf"{re.escape(text)}\n\u2014 {name} {B64 % 90}\n(\u2014 [^\s+]+ \S{{8,}}\n){{0,16}}", note)
    raw = base64.b64decode(found[1] if found else "")
    points = {int.from_bytes(y, "little") % 2**255 for y in (key, raw[4:36])}
    strict = max(points) < P and int.from_bytes(raw[36:], "little") < L and not points & {0, 1, P - 1, Y8, P - Y8}
    with contextlib.suppress(Exception): good = not PublicKey.from_public_bytes(key).verify(raw[4:], text.encode())
    need(good and strict and raw[:4] == sha(f"{name}\n\1".encode(), key)[:4], st, n, "its checkpoint is badly signed")
def check_chain(st, rows, notes):  # rows: (key, place in the chain, id, line), the first three None where not stored
    ids, clocks, refs, edge, covered = [], [], [], [], 0  # edge: the roots of the tree's complete parts
    for n, (*stored, line) in enumerate(rows):
        e, size, day = {}, n + 1, None
        with contextlib.suppress(Exception): e, leaf = dict(json.loads(line[:65536])), sha(b"\0", line)
        need({*e} == {*FIELDS} and plain(e) and canon(e).encode() == line, st, n, "not canonical JSON, or other fields")
        rx = dict(FIELDS, seq=str(n), station=f'"{st}"', prev=f'"{(ids or ["0" * 64])[-1]}"', **({} if n else FIRST))
        for k in rx: need(re.fullmatch(rx[k], canon((e if k in e else e["body"]).get(k))), st, n, f"{k} is not {rx[k]}")
        with contextlib.suppress(ValueError): day = datetime.datetime.fromisoformat(e["time"][:-1])
        names, clock = [s[0] for s in e["seen"]], 1 + max(clocks[-1:] + [s[2] for s in e["seen"]], default=0)
        need(day and names == sorted({*names} - {st}) and e["clock"] == clock, st, n, "time, seen or clock is not so")
        if n == 0: key, old = base64.b64decode(e["body"]["key"]), e["body"].get("predecessor")
        if n == 0 and old: refs = [(old["station"], old["seq"], None, old["id"], st, n)]
        need(sha(b"rodbook-station/1\n", key).hex() == st, st, n, "the key is not this station's")
        need(stored in ([None] * 3, [key, n, leaf]), st, n, "key, place or id beside it differ")
        ids.append(leaf.hex()); clocks.append(clock); edge.append(leaf); refs += [(*s, st, n) for s in e["seen"]]
        while size % 2 == 0: edge[-2:], size = [sha(b"\1", *edge[-2:])], size // 2
        for note in notes.pop((f"rodbook/{st}", str(n + 1)), ()): check_note(st, key, edge, n, note); covered = n + 1
    for name, size in notes: need(name[8:] != st, st, len(ids), f"missing: a checkpoint covers {size[:16]} entries")
    need(covered == len(ids), st, covered, "no checkpoint covers it")
    return ids, clocks, refs
def load(book, notes_file=os.devnull):  # {station: rows}, {(origin, size): notes}
    texts, chains, notes, st = [open(notes_file, "rb").read().decode()], {}, {}, ""
    if open(book, "rb").read(16) == b"SQLite format 3\0":
        db = sqlite3.connect(pathlib.Path(book).absolute().as_uri() + "?mode=ro", uri=True)
        texts += [note for note, in db.execute("SELECT note FROM checkpoint")]
        for st, *row in db.execute("SELECT lower(hex(s.id)), public_key, place & ~(-1 << 40), e.id, line FROM entry e "
            "LEFT JOIN station s ON no = place >> 40 ORDER BY place"): chains.setdefault(st, []).append(row)
    for line in [] if chains else [*open(book, "rb")] or [b""]:  # a bad line counts to the station before it
        st = (re.findall('"station":"([0-9a-f]{64})","time":"[^"]*"}\n', line.decode("latin-1")) or [st])[-1]
        chains.setdefault(st, []).append((None, None, None, line[:-1] * line.endswith(b"\n")))  # no line feed: no line
    for note in [part for text in texts for part in re.split("(?<=\n)\n(?=rodbook/)", text) if part]:
        notes.setdefault((*note.split("\n"), "")[:2], set()).add(note)
    return chains, notes
def check(files, pins):
    chains, notes = load(*files)
    done = {s: check_chain(s, chains.get(s, []), notes) for s in dict.fromkeys([*chains, *(o[8:] for o, _ in notes)])}
    refs = [ref for *_, its in done.values() for ref in its]
    for st, seq, clock, leaf, by, n in refs:
        same = st not in done or done[st][0][seq:seq + 1] == [leaf] and clock in (None, done[st][1][seq])
        need(same, st, seq, f"missing, or not the one that station {by[:16]} saw at its entry {n}")
    for name, seq, typed in [pin.split(":") for pin in pins]:
        st = next((st for st in done if st.startswith(name.lower())), name)
        leaf, typed = "".join(done.get(st, [[]])[0][int(seq):int(seq) + 1]), typed.upper()
        same = leaf and typed.translate(str.maketrans("OIL", "011", "- ")) in (leaf.upper(), short(leaf))
        need(same, st, seq, "missing, or not the one on the receipt")
        print(f"station {st}: the receipt fixes entries 0 to {seq}")
    for st, (ids, *_) in done.items(): print(f"station {st}: {len(ids)} entries, head {ids[-1]} ({short(ids[-1])})")
    print("named in the record, but not in this file:", *sorted({ref[0] for ref in refs} - {*done}) or ["nothing"])
    print("Sound. Not shown: truth, completeness, who typed, when; what a key holder rewrote since the last receipt.")
if __name__ == "__main__":
    FILES = [arg for arg in sys.argv[1:] if not re.fullmatch("[0-9a-fA-F]{8,64}:[0-9]{1,15}:[^:]+", arg)]
    if len(FILES) not in (1, 2) or FILES[0].startswith("-"): sys.exit(print(__doc__) or 2)
    try: check(FILES, [arg for arg in sys.argv[1:] if arg not in FILES])
    except OSError as e: sys.exit(print("not readable:", e) or 1)
    except Exception as e: sys.exit(print("DAMAGE:", e) or 5)
