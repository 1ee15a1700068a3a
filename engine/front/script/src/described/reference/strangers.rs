//! What a stranger's script or scene can do, and its limits.

pub(super) const STRANGERS: &str = "
## What a stranger's script or scene can and cannot do

`dryturn rehearse` may be given a script that somebody else wrote. Look at its results with
the same doubt as at any other program's: it can print and expect whatever it likes.

**It can**

- read scenes, and the CSV tables that they name, below the project's root: the nearest folder
  above the script that holds a folder `scenes`, else the script's own folder, or what `--root
  DIR` says. Paths are relative to the script; those in a scene, to the scene;
- find out whether a file of a name is there below that root, and that it is no scene;
- write files into the output folder: names of letters, digits, `.`, `_`, `-` and `/`, no part of
  a name begins with `.`; never over a file that this program did not write. It can write what
  it likes into them: open them as you would a stranger's;
- keep the machine busy for as long as `--timeout` lets it.

**It cannot**

- read anything outside that root: no absolute path, no `..` that leads out, no link of a file or
  folder that leads out, no device, pipe, `/proc` or `/sys`. It is not told what is there;
- read a file that is no scene or table: a message says that it is none, or at which line and
  column it breaks off, and quotes nothing of it;
- read the environment, the clock, the network or another program's output: there are no verbs for
  it, and modules are not loaded;
- start a program. A scene can name guests, programs that play a part; only `--allow-guests` lets
  it start them. They run with your rights, outside every limit here: read their commands first;
- put markup into the report: names and notes are text there;
- hide a verb or a function of the language, `expect` for instance: a function of that name is an
  error before the script begins. A variable of that name hides nothing;
- pass without expecting anything, or with a comment that is not closed. `rehearse --allow-none`
  lets a script pass that is for pictures only;
- take other scripts of the same call along: if the program itself breaks down, that script ends
  with code 3 and one line to report, and the others keep their results.

**Limits** of each script. What used one up is said, with the verb and its line. The ends of
memory, time and operations cannot be caught with `try`.

| what | limit |
| --- | --- |
| memory of the program while the script runs and its report is made | 1 GB, an eighth of it for the system's own; `--memory`, 64MB to 1000GB; at most one worker thread for each 30 MB |
| the language's own lists, maps and texts | a quarter of the memory that other things leave free, for one step may copy them |
| time | 600 s; `--timeout`, 1 to 86,400 s; asked inside every verb. The report has as much again |
| operations, those of callbacks included | 5,000,000; a verb counts as one |
| nested function calls | 32 |
| one text | 100,000 bytes |
| one list or map, nested ones included | 10,000 items |
| variables; functions | 1,000; 500 |
| notes and expectations | 4 MiB together |
| files | 1,000, and 1 GB together, pictures before they are packed |
| scans by the script itself | 1,000 |
| trials of a drill; of the axes alone | 10,000; 100,000 |
| nodes of a plan's search | 1,000,000,000 |
| rigs of a survey | 100,000 |
| pictures on a contact sheet | 96 |
| what the report shows | 24 passes, drills and the like |

Memory is counted as the program allocates it, and asked for before a large part is taken. The
system may count up to a tenth more, for what lies between the parts.

A **scene** of a stranger that is given to a command by itself (`dryturn check`, `drill-axes` and so
on) is not held below a root: it can name a table anywhere. A table is read only if its first
line is that of a table, and a message never quotes another one. A scene can ask for hours of
work, and for much memory: 64,000,000 pixels are the most that one may have.
";
