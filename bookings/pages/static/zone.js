// The browser's zone, told to the server in a cookie; the page then asks which clock to use where the two differ.
// A zone's name holds letters, digits and / _ + - only, all of which a cookie may hold.
const zone = Intl.DateTimeFormat().resolvedOptions().timeZone;
if (zone) document.cookie = `browser_zone=${zone}; path=/; max-age=31536000; samesite=lax`;
