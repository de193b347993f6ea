// The strip above a line of hours is drawn anew while the line is typed. What cannot be read is
// left out; the server says why.
const DAY = 24 * 60;
const WINDOW = /(\d{1,2})(?:[:.h]([0-5]\d)|h)?\s*-\s*(\d{1,2})(?:[:.h]([0-5]\d)|h)?/g;
const SVG = "http://www.w3.org/2000/svg";

// The same signs as on the server: any dash, wide digits, "to" and "until".
function plain(text) {
  const read = text.normalize("NFKC").toLowerCase();
  return read.replace(/[\p{Pd}\u2212]/gu, "-").replace(/\b(?:to|until)\b/g, "-");
}

function windows(text) {
  const minutes = (hour, minute) => Number(hour) * 60 + Number(minute || 0);
  return [...plain(text).matchAll(WINDOW)]
    .map((found) => [minutes(found[1], found[2]), minutes(found[3], found[4])])
    .filter(([opens, closes]) => opens < closes && closes <= DAY);
}

function draw(line) {
  const strip = line.closest(".day").querySelector("svg.ribbon");
  const drawn = strip.querySelector("svg");
  const share = (minute) => `${(100 * minute) / DAY}%`;
  drawn.querySelectorAll(".band").forEach((band) => band.remove());
  for (const [opens, closes] of windows(line.value)) {
    const band = document.createElementNS(SVG, "rect");
    const width = share(closes - opens);
    const shape = { class: "band", x: share(opens), y: 34, width, height: 22 };
    for (const [name, value] of Object.entries(shape)) band.setAttribute(name, value);
    drawn.insertBefore(band, drawn.querySelector(".strip"));
  }
  const label = strip.getAttribute("aria-label").replace("as published", "not published yet");
  strip.setAttribute("aria-label", label);
}

document.querySelector("form.week").addEventListener("input", (event) => {
  if (event.target.name.startsWith("day_")) draw(event.target);
});
