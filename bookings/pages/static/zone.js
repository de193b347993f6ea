// The browser's zone, told to the server in a cookie; the page then asks which clock to use where
// the two differ.
// A zone's name holds letters, digits and / _ + - only, all of which a cookie may hold.
const zone = Intl.DateTimeFormat().resolvedOptions().timeZone;
if (zone) document.cookie = `browser_zone=${zone}; path=/; max-age=31536000; samesite=lax`;
// A form that asks for a clock begins with the browser's, under its current name.
for (const select of document.querySelectorAll("select[data-browser-zone]")) {
  const isZone = ({ value, dataset }) =>
    value === zone || (dataset.also || "").split(" ").includes(zone);
  const own = zone && !select.value && [...select.options].find(isZone);
  if (own) select.value = own.value;
}
