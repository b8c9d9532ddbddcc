// Package web is the study pages: what the commands do, in a browser. Start with [New], which returns the pages of
// an open study, and hand them to [Serve].
//
// # A page
//
// A page has a file of its own, page_NAME.go, with a method of [Server] that takes a request and returns an answer,
// and the struct that its template shows; the template is pages/NAME.html, which defines "main". The method stands in
// the list of routes (routes.go) beside its pattern. It gets its data by calls of study/desk, and the columns and
// words by study/shown, and computes nothing. What is made of the whole study is [kept] in memory until the log has
// another line, and made again in the background; the page says up to which line it goes.
//
// The files of a page have its address with .csv, .json, .svg, .png or .pdf behind: a [view] offers what it has. An
// address is made by a function of address.go, never by hand: it escapes codes, and dots in them.
//
// # A change
//
// A form has method="post" and {{template "token" $}} in it. Its method of Server stands in the list of changes. The
// guard (guard.go) lets it run only if the browser says that the form came from these pages, and if the token of the
// form is that of the session, which is kept in a cookie (HttpOnly, SameSite=Strict). It returns [done], which sends
// the browser to another page with what was said (POST, redirect, GET); a refusal, which becomes a page that says what
// happened and what to try; or a view, to ask again. request.desk is the desk at which the person of this browser
// works.
// A form that is about what the person saw has the line of the log in it ({{template "token" $}} does that); a change
// asks request.since(VERB...) what others have done after that line, and returns [conflict] if it matters.
//
// A form that changes nothing of the study, since it only brings a picture or asks for long work, stands in the list with
// reads: it works where the study is served to be read only.
//
// Files that a form brings are in a [tray], a private folder under names that lead nowhere else, and go with it. What takes
// long is a [task]: it goes on when its page is left, and the page follows it by a stream. Who corrects or judges waits for
// those before, and is told by a [conflict] what they did since the page was made.
//
// # What holds everywhere
//
// Nothing that a person can write names a file of this machine. Names and texts of others are shown by {{say .Text}},
// which escapes, isolates the direction of the script, and quotes what hides something. There is no script and no
// style in pages: only files, which the policy of each answer names. A panic ends one answer, never the server.
package web
