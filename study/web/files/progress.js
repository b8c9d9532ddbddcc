// How far work in the background is. At its end the page is loaded again.
"use strict";
(function () {
  document.querySelectorAll("[data-progress]").forEach(function (place) {
    var bar = place.querySelector("progress"), words = place.querySelector("[role=status]"), said = 0;
    var stream = new EventSource(place.dataset.progress);
    stream.addEventListener("progress", function (e) {
      var now = JSON.parse(e.data);
      if (now.total) { bar.max = now.total; bar.value = now.done; }
      // A screen reader says each change: not more often than it can.
      if (Date.now() - said > 1500 || now.done === now.total) { words.textContent = now.words; said = Date.now(); }
    });
    stream.addEventListener("ended", function () { stream.close(); location.reload(); });
    stream.addEventListener("error", function () {
      if (stream.readyState === EventSource.CLOSED) { words.textContent = "The server does not answer. Load the page again."; }
    });
  });
})();
