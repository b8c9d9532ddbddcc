package web

import (
	"bytes"
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"net/http"
	"strings"
	"sync"
	"time"

	"wane/study/report"
)

// ours holds the script and the style of the pages, and uPlot with its licence.
//
//go:embed files/*
var ours embed.FS

// asset is a file of the pages, which never changes under its address.
type asset struct {
	data []byte
	mark string // of its content
	kind string
}

// assets are the files by their names. There is no other way to a file: names of requests are only looked up here.
// They and the templates are read when a page is first asked for: each command of the program would wait for them.
var assets = sync.OnceValue(readAssets)

func readAssets() map[string]asset {
	entries, err := ours.ReadDir("files")
	if err != nil {
		panic(err) // they are in the program
	}
	all := map[string]asset{}
	for _, e := range entries {
		data, err := ours.ReadFile("files/" + e.Name())
		if err != nil {
			panic(err)
		}
		all[e.Name()] = newAsset(e.Name(), data)
	}
	all["figures.css"] = newAsset("figures.css", []byte(report.PageStyle()))
	return all
}

func newAsset(name string, data []byte) asset {
	kinds := map[string]string{"css": "text/css; charset=utf-8", "js": "text/javascript; charset=utf-8",
		"txt": "text/plain; charset=utf-8", "svg": "image/svg+xml"}
	sum := sha256.Sum256(data)
	return asset{data, hex.EncodeToString(sum[:8]), kinds[name[strings.LastIndexByte(name, '.')+1:]]}
}

// fileURL is the address of a file of the pages.
func fileURL(name string) string { return filesAt + name + "?" + assets()[name].mark }

func serveFile(w http.ResponseWriter, r *http.Request) {
	a, known := assets()[strings.TrimPrefix(r.URL.Path, filesAt)]
	if !known || r.Method != http.MethodGet && r.Method != http.MethodHead {
		http.Error(w, "there is no such file", http.StatusNotFound)
		return
	}
	h := w.Header()
	h.Set("Content-Type", a.kind)
	h.Set("ETag", `"`+a.mark+`"`)
	if r.URL.RawQuery == a.mark {
		h.Set("Cache-Control", "public, max-age=31536000, immutable")
	} else {
		h.Set("Cache-Control", "no-cache")
	}
	http.ServeContent(w, r, "", time.Time{}, bytes.NewReader(a.data))
}
