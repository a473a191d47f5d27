// Yards written for a test, and the running program that looks after them.

import { spawn, spawnSync } from 'node:child_process';
import { mkdtempSync, openSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { createServer } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';

/** The root of the repository. */
export const REPO = fileURLToPath(new URL('../..', import.meta.url));

/** The program. */
export const PROGRAM = process.env.PILOTWIRE ?? join(REPO, 'target/release/pilotwire');

/** The password of a yard's page that has one; drawn at random for these tests. */
export const PASSWORD = 'k3Vn8qTz5YwR1cJx7bLd2Gma';

/** Waits until `is` returns something true, and returns that. */
export async function until(is, within_s, what) {
  const end = Date.now() + 1000 * within_s;
  for (;;) {
    const got = await is();
    if (got) return got;
    if (Date.now() > end) throw new Error(`not within ${within_s} s: ${what}`);
    await new Promise((done) => setTimeout(done, 50));
  }
}

/** A port that is not in use. */
export function freePort() {
  return new Promise((done) => {
    const server = createServer();
    server.listen(0, '127.0.0.1', () => {
      const { port } = server.address();
      server.close(() => done(port));
    });
  });
}

const quoted = (text) => JSON.stringify(text);

/** Places without summer time, by how many hours their clocks are ahead, from -11 on. */
const PLACES = [
  'Pacific/Pago_Pago', 'Pacific/Honolulu', 'Pacific/Gambier', 'Pacific/Pitcairn', 'America/Phoenix',
  'America/Costa_Rica', 'America/Bogota', 'America/La_Paz', 'America/Argentina/Buenos_Aires',
  'Atlantic/South_Georgia', 'Atlantic/Cape_Verde', 'Atlantic/Reykjavik', 'Africa/Lagos', 'Africa/Maputo',
  'Africa/Nairobi', 'Asia/Dubai', 'Asia/Karachi', 'Asia/Dhaka', 'Asia/Bangkok', 'Asia/Singapore', 'Asia/Tokyo',
  'Australia/Brisbane', 'Pacific/Guadalcanal', 'Pacific/Tarawa',
];

/**
 * A place on the equator where the sun sets about now. The moments of its zones are seconds after sunset, so
 * that a test need not wait for a full minute of the clock.
 */
function evening() {
  const now = new Date();
  const hour = now.getUTCHours() + now.getUTCMinutes() / 60;
  const ahead = (18 - Math.floor(hour) + 11) % 24 - 11;
  const longitude = ((18 - hour) * 15 + 180) % 360 - 180;
  // As the program itself works it out.
  const from = new Date(now - 86_400_000).toISOString().slice(0, 10);
  const words = ['sun', '--latitude', '0', `--longitude=${longitude}`, '--days', '3', '--format', 'json', '--from', from];
  const said = spawnSync(PROGRAM, words, { encoding: 'utf8' });
  if (said.status !== 0) throw new Error(said.stderr);
  const sunsets = JSON.parse(said.stdout).days.map((day) => Date.parse(day.events.sunset.utc));
  const sunset = sunsets.reduce((a, b) => (Math.abs(a - now) < Math.abs(b - now) ? a : b));
  return { timezone: PLACES[ahead + 11], longitude, sunset };
}

const LAMP = 'power = "4 W"\nlowest_voltage = "9 V"\nhighest_voltage = "15 V"\naccepts = ["ac", "dc"]\n';

/**
 * The site file of a yard. Zones: `{ name, in_s, for, follows, output, input, chip }`; `in_s`: goes on that many
 * seconds from now.
 */
export function siteFile({ name = 'Fern Lea', zones, daemon = '' }) {
  const place = evening();
  let text = `[site]\nname = ${quoted(name)}\nlatitude = 0.0\nlongitude = ${place.longitude}\n`
    + `timezone = ${quoted(place.timezone)}\nregion = "iec"\nmains = "230 V"\n\n`
    + '[temperature]\ncoldest = "2 C"\ntypical = "14 C"\nhottest = "32 C"\n\n'
    + '[[relay]]\nname = "small"\ncoil_resistance = "400 ohm"\noperate_voltage = "9.0 V"\nrelease_voltage = "1.2 V"\n'
    + 'typical_release_voltage = "3.6 V"\nmax_coil_voltage = "15.6 V"\nthermal_resistance = "95 K/W"\n\n';
  zones.forEach((zone, index) => {
    const supply = quoted(`s${index}`);
    text += `[[supply]]\nname = ${supply}\nkind = "dc"\nvoltage = "12.0 V"\nmax_current = "6 A"\n\n`;
    text += `[[zone]]\nname = ${quoted(zone.name)}\nsupply = ${supply}\n`;
    if (!zone.follows) {
      const offset = Math.round((Date.now() - place.sunset) / 1000 + zone.in_s);
      text += `on = "sunset ${offset < 0 ? '-' : '+'} ${Math.abs(offset)} s"\nfor = "${zone.for ?? '4 h'}"\n`;
    }
    text += `\n[[lamp]]\nzone = ${quoted(zone.name)}\ncount = 4\n${LAMP}\n`;
    if (zone.follows) {
      text += `[[link]]\nmaster = ${quoted(zone.follows)}\nslave = ${quoted(zone.name)}\nwire = "0.75 mm2"\nlength = "22 m"\n`
        + 'rectifier = "none"\nrelay = "small"\nfuse = "250 mA"\n\n';
    }
    const chip = quoted(zone.chip ?? 'gpiochip0');
    if (zone.output) text += `[[output]]\nzone = ${quoted(zone.name)}\nchip = ${chip}\nline = ${index}\n\n`;
    if (zone.input) text += `[[input]]\nzone = ${quoted(zone.name)}\nchip = ${chip}\nline = ${index}\n\n`;
  });
  return `${text}[daemon]\n${daemon}`;
}

/** The program, looking after a yard in a folder of its own. */
export class Yard {
  /** `real`: drives its lines, which do not exist here; otherwise it only prints what it would drive. */
  static async start({ real = false, password = false, ...yard }) {
    const it = new Yard();
    it.folder = mkdtempSync(join(tmpdir(), 'pilotwire-yard-'));
    it.port = await freePort();
    it.url = `http://127.0.0.1:${it.port}`;
    it.real = real;
    it.site = join(it.folder, 'site.toml');
    it.socket = join(it.folder, 'control.sock');
    if (password) writeFileSync(join(it.folder, 'password'), `${PASSWORD}\n`, { mode: 0o600 });
    it.daemon = `listen = "127.0.0.1:${it.port}"\nstate_dir = ${quoted(join(it.folder, 'state'))}\n`
      + `clock_proof = "/dev/null"\nstagger = "0 s"\n${password ? `page_token = ${quoted(join(it.folder, 'password'))}\n` : ''}`
      + `socket = ${quoted(it.socket)}\n`;
    if (yard.file) {
      const text = readFileSync(yard.file, 'utf8').replace(/^\[daemon\][^[]*/m, '');
      writeFileSync(it.site, `${text}\n[daemon]\n${it.daemon}`);
    } else {
      writeFileSync(it.site, siteFile({ ...yard, daemon: it.daemon }));
    }
    try {
      await it.run();
    } catch (error) {
      await it.close();
      throw error;
    }
    return it;
  }

  /** Starts the program, and waits until its page is there. */
  async run() {
    const log = openSync(join(this.folder, 'log'), 'a');
    const how = this.real ? [] : ['--print', '--page', '--socket', this.socket, '--state-dir', join(this.folder, 'state')];
    this.child = spawn(PROGRAM, ['run', ...how, this.site], { stdio: ['ignore', log, log] });
    let gone = false;
    this.child.on('exit', () => { gone = true; });
    const there = async () => {
      if (gone) throw new Error(`it has ended:\n${this.log()}`);
      const answer = await fetch(`${this.url}/healthz`).catch(() => null);
      return answer?.ok;
    };
    await until(there, 30, 'the page');
  }

  log() {
    return readFileSync(join(this.folder, 'log'), 'utf8');
  }

  /** Asks the program on its control socket. */
  ask(...words) {
    const said = spawnSync(PROGRAM, [...words, '--socket', this.socket], { encoding: 'utf8' });
    if (said.error) throw said.error;
    return said;
  }

  /** Ends the program as a power cut does. */
  async kill() {
    if (this.child.exitCode !== null || this.child.signalCode !== null) return;
    const ended = new Promise((done) => this.child.once('exit', done));
    this.child.kill('SIGKILL');
    await ended;
  }

  /** Ends it, and takes its folder away. */
  async close() {
    await this.kill();
    rmSync(this.folder, { recursive: true, force: true });
  }
}
