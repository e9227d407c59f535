#include <fcntl.h>
#include <poll.h>
#include <unistd.h>

#include <csignal>
#include <exception>
#include <iostream>
#include <new>
#ifdef __GLIBC__
#include <execinfo.h>
#include <malloc.h>
#endif

#include "bilancetta/report.hpp"
#include "commands.hpp"
#include "help_format.hpp"

// Tables and draws come and go in megabytes. What was freed stays with the program: to give it back and have it mapped
// again, page by page, took a third of a weighing.
static void keep_freed_memory()
{
#ifdef __GLIBC__
  constexpr int mib = 1 << 20;
  mallopt(M_TRIM_THRESHOLD, 256 * mib);
  mallopt(M_MMAP_THRESHOLD, 32 * mib);
#endif
}

// Where an exception passes a frame of glibc (std::call_once has one), it looks up what unwinds the stack, and ends the
// program if there is no memory for that: it has looked it up before.
static void prepare_for_exceptions()
{
#ifdef __GLIBC__
  void* frame = nullptr;
  backtrace(&frame, 1);
#endif
}

// A closed pipe and a full quota are failed writes and no death. A closed standard stream is not to be taken for the
// next file that is opened.
static void prepare_streams()
{
  std::signal(SIGPIPE, SIG_IGN);
  std::signal(SIGXFSZ, SIG_IGN);
  for (const int stream : {0, 1, 2}) {
    if (fcntl(stream, F_GETFD) < 0) {
      static_cast<void>(open("/dev/null", stream == 0 ? O_WRONLY : O_RDONLY));  // whoever uses it fails
    }
  }
}

// Whether all of it is written.
static bool all_written()
{
  if (std::cout.flush()) {
    return true;
  }
  pollfd output = {STDOUT_FILENO, POLLOUT, 0};
  if (poll(&output, 1, 0) < 0 || (output.revents & POLLERR) == 0) {  // else whoever reads has seen enough
    std::cerr << "bilancetta: the result could not be written (disk full, or the reader closed)\n";
  }
  return false;
}

// Exit status: 0 all well; 1 some rows could not be used; 2 the command line or the input cannot be used.
static int run_program(int argc, char** argv)
{
  std::ios::sync_with_stdio(false);
  const std::vector<std::string> typed(argv + 1, argv + argc);
  CLI::App app("From two weights of a small metal piece, dry and in water, to what it may be.", "bilancetta");
  app.set_version_flag("--version", std::string(bilancetta::program_version()));
  app.require_subcommand(1);
  app.formatter(std::make_shared<ExampleFirst>());
  app.footer("Example:\n  bilancetta weigh --dry 4.21 --rise 0.42 --found breaker");
  Run run;
  add_plan(app, run);
  add_weigh(app, run, typed);
  add_batch(app, run);
  add_tables(app, run);
  try {
    app.parse(argc, argv);
    const int status = run(std::cout);
    return all_written() ? status : 2;
  } catch (const CLI::ParseError& error) {
    if (error.get_exit_code() == 0) {  // help and version
      const int status = app.exit(error);
      return all_written() ? status : 2;
    }
    std::cerr << "bilancetta: " << message_of(app, typed, error) << '\n';
    return 2;
  } catch (const std::bad_alloc&) {
    std::cerr
        << "bilancetta: there is not enough memory; end other programs, raise the limit (ulimit -v), or give batch "
           "fewer --threads\n";
    return 2;
  } catch (const std::exception& error) {
    std::cout.flush();
    std::cerr << "bilancetta: " << error.what() << '\n';
    return 2;
  }
}

int main(int argc, char** argv)
{
  keep_freed_memory();
  prepare_for_exceptions();
  prepare_streams();
  try {
    return run_program(argc, argv);
  } catch (...) {  // nothing is left to print with
    return 2;
  }
}
