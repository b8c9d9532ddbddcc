package store

import (
	"encoding/binary"
	"errors"
	"io"
	"io/fs"
	"maps"
	"os"
)

// The write-ahead log of SQLite: a header of 32 bytes, then frames, each of 24 bytes and
// a page. All numbers are big-endian. A frame carries the two salts of the header and a
// checksum of all before it, and the last frame of a commit the size of the database in
// pages. What is after the first frame that does not fit is not read by SQLite: old
// frames, which have other salts, the beginning of a transaction that came to no end, or
// what follows damage. Source: sqlite.org/fileformat2.html, section 4, from memory.
const (
	walHeader  = 32
	walFrame   = 24
	walVersion = 3007000
	walMagic   = 0x377f0682 // the last bit is set where checksums are of big-endian words
)

// walFound is what a write-ahead log holds.
type walFound struct {
	size    int64 // in bytes, 0 if there is none
	started bool  // its header is whole
	commits int   // that are whole, from the beginning; those that only mark the study do not count
	torn    bool  // a transaction without an end follows them

	damaged bool  // commits follow a place that is damaged
	at      int64 // the first damaged byte is in the frame, or the header, that begins here
	lost    int   // commits from there on

	// Of the commits that are whole:
	pages    map[uint32]int64 // where the newest frame of each page begins
	last     uint32           // size of the database after the last one, in pages
	versions []userVersion    // in the order of commits, of those that have a first page of a study
}

// sameDamage reports whether damage is where it was.
func (w walFound) sameDamage(o walFound) bool {
	return w.damaged == o.damaged && w.size == o.size && w.at == o.at && w.commits == o.commits && w.lost == o.lost
}

// walName is the name of the write-ahead log of the study at path.
func walName(path string) string { return path + "-wal" }

// inspectWAL says what the write-ahead log of the study at path holds. A log that is being
// written may look damaged for a moment: damage counts if it is there again.
func inspectWAL(path string) (found walFound, err error) {
	const tries = 4
	before := walFound{}
	for range tries {
		found, err = readWAL(walName(path))
		if err != nil || !found.damaged || found.sameDamage(before) {
			return found, err
		}
		before = found
		pause()
	}
	return found, nil
}

func readWAL(name string) (walFound, error) {
	f, err := os.Open(name)
	if errors.Is(err, fs.ErrNotExist) {
		return walFound{}, nil
	}
	if err != nil {
		return walFound{}, err
	}
	defer f.Close() // it was only read
	info, err := f.Stat()
	if err != nil {
		return walFound{}, err
	}
	s := &walScan{from: f, walFound: walFound{size: info.Size()}}
	err = s.scan()
	return s.walFound, err
}

// walScan goes through a write-ahead log.
type walScan struct {
	walFound
	from   io.ReaderAt
	order  binary.ByteOrder // of the words that checksums are of
	salts  [8]byte
	sums   [2]uint32 // checksum of all before the next frame
	page   int       // size in bytes
	frame  []byte
	frames int64
}

func (s *walScan) scan() error {
	if s.size < walHeader {
		return nil
	}
	head := make([]byte, walHeader)
	if _, err := s.from.ReadAt(head, 0); err != nil {
		return err
	}
	s.started = s.begin(head)
	s.frame = make([]byte, walFrame+s.page)
	s.frames = (s.size - walHeader) / int64(len(s.frame))
	if !s.started {
		return s.headless()
	}
	return s.follow()
}

// begin reads the header, and reports whether it is whole.
func (s *walScan) begin(head []byte) bool {
	word := func(i int) uint32 { return binary.BigEndian.Uint32(head[4*i:]) }
	s.order = binary.LittleEndian
	if word(0)&1 == 1 {
		s.order = binary.BigEndian
	}
	s.sums = walSum(s.order, [2]uint32{}, head[:24])
	copy(s.salts[:], head[16:24])
	s.page = int(word(2))
	if s.page < 512 || s.page > 65536 || s.page&(s.page-1) != 0 {
		s.page = pageSize
		return false
	}
	return word(0)&^1 == walMagic && word(1) == walVersion && s.sums == [2]uint32{word(6), word(7)}
}

// headless tries for commits below a header that is damaged: what carries the salts of the
// first frame is of one log.
func (s *walScan) headless() error {
	if s.frames == 0 {
		return nil
	}
	s.page = pageSize
	s.frame = make([]byte, walFrame+s.page)
	s.frames = (s.size - walHeader) / int64(len(s.frame))
	if err := s.read(0); err != nil {
		return err
	}
	copy(s.salts[:], s.frame[8:16])
	_, err := s.beyond(0, 0)
	s.damaged = s.lost > 0
	return err
}

// follow reads the frames as SQLite does, and then tries beyond the first that does not fit.
func (s *walScan) follow() error {
	begun := int64(0)            // the first frame of the transaction
	frames := map[uint32]int64{} // of the transaction
	s.pages = map[uint32]int64{}
	var now userVersion // of the transaction
	first := false      // it has the first page of a study
	for i := range s.frames {
		if err := s.read(i); err != nil {
			return err
		}
		if !s.fits() {
			s.at = walHeader + i*int64(len(s.frame))
			ends, err := s.beyond(i, begun)
			// The first commit ends the transaction that is damaged.
			s.damaged = ends > 1 && s.lost > 0
			s.torn = s.torn || i > begun
			return err
		}
		frames[s.number(0)] = walHeader + i*int64(len(s.frame))
		if s.number(0) == 1 && binary.BigEndian.Uint32(s.frame[walFrame+headerID:]) == applicationID {
			now = userVersion(int32(binary.BigEndian.Uint32(s.frame[walFrame+headerVersion:])))
			first = true
		}
		if s.commit() {
			if !s.marks(i, begun) {
				s.commits++
			}
			if first {
				s.versions = append(s.versions, now)
			}
			maps.Copy(s.pages, frames)
			clear(frames)
			s.last, begun, first = s.number(1), i+1, false
		}
	}
	s.torn = s.frames > begun
	return nil
}

// Bytes of the first page where the user version and the application ID begin. Source:
// sqlite.org/fileformat2.html, section 1.3.
const (
	headerVersion = 60
	headerID      = 68
)

// beyond counts the commits from the frame broken on that are of this log, as far as salts
// and numbers of pages say. The transaction of that frame began with frame begun.
func (s *walScan) beyond(broken, begun int64) (ends int, err error) {
	for i := broken; i < s.frames; i++ {
		if err := s.read(i); err != nil {
			return ends, err
		}
		ours, end := s.ours(), s.commit() && s.number(0) <= s.number(1)
		if i == broken {
			ours = s.resembles()
			end = s.wasCommit()
		}
		mark := end && (s.marks(i, begun) || i == broken && i == begun && s.fitsWith(0, 1))
		s.torn = s.torn || ours && !mark
		if ours && end {
			ends++
			if !mark {
				s.lost++
			}
			begun = i + 1
		}
	}
	return ends, nil
}

func (s *walScan) read(i int64) error {
	_, err := s.from.ReadAt(s.frame, walHeader+i*int64(len(s.frame)))
	return err
}

func (s *walScan) number(i int) uint32 { return binary.BigEndian.Uint32(s.frame[4*i:]) }

// ours reports whether the frame carries the salts of the log.
func (s *walScan) ours() bool {
	return [8]byte(s.frame[8:16]) == s.salts && s.number(0) > 0
}

// resembles reports whether the frame is of the log if one of its salts is damaged. Those
// of older frames differ in both.
func (s *walScan) resembles() bool {
	return [4]byte(s.frame[8:12]) == [4]byte(s.salts[:4]) || [4]byte(s.frame[12:16]) == [4]byte(s.salts[4:])
}

// wasCommit is commit for a frame that is damaged, maybe in one byte of the size of the
// database that it states.
func (s *walScan) wasCommit() bool {
	if s.commit() {
		return !s.fitsWith(1, 0)
	}
	for k := range 4 {
		for b := range uint32(255) {
			if s.fitsWith(1, (b+1)<<(8*k)) {
				return true
			}
		}
	}
	return false
}

// fitsWith reports whether the frame would fit if number i of its header were n.
func (s *walScan) fitsWith(i int, n uint32) bool {
	was, sums := s.number(i), s.sums
	binary.BigEndian.PutUint32(s.frame[4*i:], n)
	fits := s.fits()
	binary.BigEndian.PutUint32(s.frame[4*i:], was)
	s.sums = sums
	return fits
}

// fits reports whether the frame follows those before, and goes on to the next.
func (s *walScan) fits() bool {
	if !s.ours() {
		return false
	}
	sums := walSum(s.order, walSum(s.order, s.sums, s.frame[:8]), s.frame[walFrame:])
	if sums != [2]uint32{s.number(4), s.number(5)} {
		return false
	}
	s.sums = sums
	return true
}

// commit reports whether the frame is the last of a commit.
func (s *walScan) commit() bool { return s.number(1) > 0 }

// marks reports whether the commit that ends with frame i is of the first page alone, as
// those are that say whether the study is closed: an addition always touches others.
func (s *walScan) marks(i, begun int64) bool { return i == begun && s.number(0) == 1 }

// walSum goes on from the checksum sums over data, whose length is a multiple of 8.
func walSum(order binary.ByteOrder, sums [2]uint32, data []byte) [2]uint32 {
	a, b := sums[0], sums[1]
	for ; len(data) >= 8; data = data[8:] {
		a += order.Uint32(data) + b
		b += order.Uint32(data[4:]) + a
	}
	return [2]uint32{a, b}
}
