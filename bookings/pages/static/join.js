// The link to join takes the place of the sentence about it when it is time. Without this script
// the link is there from the start.
// Time is told by the school's clock, which the page shows, and not by this machine's.
const clock = document.querySelector(".me time");
const ahead = clock ? Date.parse(clock.dateTime) - Date.now() : 0;

function wait(link) {
  const left = Date.parse(link.dataset.joinFrom) - Date.now() - ahead;
  link.hidden = left > 0;
  link.previousElementSibling.hidden = left <= 0;
  if (left > 0) setTimeout(wait, Math.min(left, 20000), link);
}

document.querySelectorAll("[data-join-from]").forEach(wait);
