// What radio comes to at any spot of the briefing's map: the classes that the page
// holds, in words, with the post that is nearest. All of it works without a network.

const DIRECTIONS = ["north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west"];
const FEET_A_METRE = 1 / 0.3048;
const METRES_A_MILE = 1609.344;

/** The classes of the cells, a letter each, row by row from the top. */
function unpacked({ columns, rows, runs }) {
  const cells = new Array(columns * rows);
  let at = 0;
  for (const [, letter, count] of runs.matchAll(/([.a-z])(\d*)/g)) {
    for (let left = count === "" ? 1 : Number(count); left > 0; left -= 1, at += 1)
      cells[at] = letter === "." ? cells[at - columns] : letter;
  }
  return cells;
}

/** A distance as one says it, rounded as in the sentences of the briefing. */
export function roughly(units, metres) {
  const to = (value, step) => Math.max(Math.round(value / step) * step, step);
  if (units === "us") {
    if (metres < METRES_A_MILE / 4) return `${to(metres * FEET_A_METRE, 50)} ft`;
    return `${(metres / METRES_A_MILE).toFixed(1)} miles`;
  }
  return metres < 995 ? `${to(metres, 10)} m` : `${(metres / 1000).toFixed(1)} km`;
}

/** The posts from the nearest on, each with how far away it is and in which direction. */
function byDistance(posts, [up, right]) {
  const from = posts.map((post) => {
    const [north, east] = [post.at[0] - up, post.at[1] - right];
    const eighth = Math.round(Math.atan2(east, north) / (Math.PI / 4));
    return { post, away: Math.hypot(north, east), towards: DIRECTIONS[(eighth + 8) % 8] };
  });
  return from.sort((a, b) => a.away - b.away);
}

/** Nearer than this somebody stands at the post, metres. */
const AT_THE_POST = 15;

/** What answers for a spot: `answer([up, right])` in metres on the map, a title and a line. */
export function answers(data) {
  const cells = unpacked(data.spots);
  const { columns, rows, across, down, classes } = data.spots;

  /** The class at a spot, nothing off the map. */
  function classAt([up, right]) {
    const column = Math.floor((right / data.width) * across);
    const row = Math.floor(((data.height - up) / data.height) * down);
    if (right < 0 || up < 0 || right >= data.width || up > data.height) return null;
    return classes[cells[Math.min(row, rows - 1) * columns + Math.min(column, columns - 1)]];
  }

  const near = ({ post, away, towards }) =>
    `${post.number} ${post.name}, ${roughly(data.units, away)} ${towards} of here`;

  return (at) => {
    const found = classAt(at);
    if (!found) return { title: "Off the map: nothing was computed there.", line: "Count on no radio.", works: false };
    const posts = byDistance(data.posts, at);
    const lines = [];
    const [first] = posts;
    if (first && first.away < AT_THE_POST) lines.push(`At post ${first.post.number} ${first.post.name}: ${first.post.sentence}`);
    else if (first) lines.push(`Nearest post: ${near(first)}.`);
    const open = found.works ? undefined : posts.find(({ post }) => post.works);
    if (open && open !== first) lines.push(`Nearest post with radio: ${near(open)}.`);
    if (found.reaches) lines.push(`Over the relay on ${data.site.name}.`);
    return { title: found.says, line: lines.join(" "), works: found.works };
  };
}

/** Where a position in degrees lies on the map, metres up and to the right; nothing far off it. */
export function placed(earth, latitude, longitude) {
  if (!earth) return null;
  const { west, east, south, north, parts, lattice } = earth;
  const turned = longitude + 360 * Math.round(((west + east) / 2 - longitude) / 360);
  const right = ((turned - west) / (east - west)) * parts;
  const up = ((latitude - south) / (north - south)) * parts;
  if (!(right >= 0 && up >= 0 && right <= parts && up <= parts)) return null;
  const [column, row] = [Math.min(Math.floor(right), parts - 1), Math.min(Math.floor(up), parts - 1)];
  const [u, v] = [right - column, up - row];
  const corner = (across, above) => lattice[(row + above) * (parts + 1) + column + across];
  const corners = [corner(0, 0), corner(1, 0), corner(0, 1), corner(1, 1)];
  if (corners.includes(null)) return null;
  const blend = (part) => {
    const [a, b, c, d] = corners.map((at) => at[part]);
    return (a * (1 - u) + b * u) * (1 - v) + (c * (1 - u) + d * u) * v;
  };
  return [blend(0), blend(1)];
}
