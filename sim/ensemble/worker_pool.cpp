#include "sim/ensemble/worker_pool.hpp"

#include <poll.h>
#include <signal.h>
#include <sys/prctl.h>
#include <sys/socket.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cerrno>
#include <chrono>
#include <cstdint>
#include <cstring>
#include <deque>
#include <list>
#include <optional>
#include <system_error>
#include <vector>

#include "sim/discrete/kernel.hpp"

namespace overwinter {
namespace {

constexpr int tick_ms = 200;
constexpr int most_deaths = 2;  // of workers over one task

enum class Kind : std::uint64_t { share, so_far, done, done_and_worn_out, failed, failed_and_worn_out };

/// Before the bytes of a message from a worker.
struct Header {
  Kind kind;
  std::uint64_t size;
};

bool send_all(int socket, const void* data, std::size_t size) {
  const char* at = static_cast<const char*>(data);
  while (size > 0) {
    const ssize_t sent = ::send(socket, at, size, MSG_NOSIGNAL);
    if (sent < 0 && errno == EINTR) continue;
    if (sent <= 0) return false;
    at += sent;
    size -= static_cast<std::size_t>(sent);
  }
  return true;
}

bool send_message(int socket, Kind kind, const std::string& bytes) {
  const Header header{kind, bytes.size()};
  return send_all(socket, &header, sizeof header) && send_all(socket, bytes.data(), bytes.size());
}

std::string bytes_of(double value) { return {reinterpret_cast<const char*>(&value), sizeof value}; }

constexpr int orphaned = 1;

class Voice final : public WorkerVoice {
 public:
  explicit Voice(int socket) : socket_(socket) {}
  void operator()(double share) const override {
    const auto now = std::chrono::steady_clock::now();
    if (now - last_ < std::chrono::milliseconds(tick_ms)) return;
    last_ = now;
    send(Kind::share, bytes_of(share));
  }
  void so_far(const std::string& result) const override { send(Kind::so_far, result); }

 private:
  void send(Kind kind, const std::string& bytes) const {
    if (!send_message(socket_, kind, bytes)) ::_exit(orphaned);
  }
  const int socket_;
  mutable std::chrono::steady_clock::time_point last_;
};

/// A worker's life.
[[noreturn]] void serve(int socket, const WorkerOptions& options, const PoolWork& pool) {
  const Voice tell(socket);
  for (;;) {
    std::uint64_t task = 0;
    const ssize_t got = ::recv(socket, &task, sizeof task, MSG_WAITALL);
    if (got < 0 && errno == EINTR) continue;
    if (got != static_cast<ssize_t>(sizeof task)) ::_exit(0);
    std::string result;
    bool failed = false;
    try {
      result = pool.work(task, tell);
    } catch (const std::exception& e) {
      failed = true;
      result = e.what();
    } catch (const Stopped&) {  // told so as it was begun: the parent ends all
      ::_exit(orphaned);
    }
    const bool worn_out = DiscreteKernel::instance().years() > options.years_per_worker;
    const Kind kind = failed ? (worn_out ? Kind::failed_and_worn_out : Kind::failed)
                             : (worn_out ? Kind::done_and_worn_out : Kind::done);
    if (!send_message(socket, kind, result)) ::_exit(orphaned);
  }
}

struct Worker {
  pid_t process;
  int socket;
  std::optional<std::size_t> task = {};
  double share = 0;
  std::string unread = {};
};

std::string how_it_ended(int status) {
  if (WIFSIGNALED(status)) return std::string("ended by signal ") + std::to_string(WTERMSIG(status));
  return "ended with code " + std::to_string(WEXITSTATUS(status));
}

class Pool {
 public:
  Pool(std::size_t tasks, const WorkerOptions& options, const PoolWork& pool, const TimeLimit& limit)
      : pool_(pool), options_(options), limit_(limit), left_(tasks), deaths_(tasks) {
    for (std::size_t i = 0; i < tasks; ++i) waiting_.push_back(i);
  }
  ~Pool() {
    for (const Worker& w : workers_) {
      ::kill(w.process, SIGKILL);
      reap(w);
    }
  }
  Pool(const Pool&) = delete;
  Pool& operator=(const Pool&) = delete;

  void run() {
    while (left_ > 0) {
      while (!waiting_.empty() && workers_.size() < options_.jobs && start()) continue;
      double shares = 0, spent = 0;
      for (const Worker& w : workers_) {
        shares += w.share;
        spent += processor_time(w.process);
      }
      pool_.tick(shares);
      limit_.look_now(spent);
      listen();
    }
  }

 private:
  /// False where the machine has no room for a further process.
  bool start() {
    int ends[2];
    if (::socketpair(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0, ends) != 0) return no_room();
    const pid_t parent = ::getpid(), process = ::fork();
    if (process < 0) {
      ::close(ends[0]);
      ::close(ends[1]);
      return no_room();
    }
    if (process == 0) {
      ::prctl(PR_SET_PDEATHSIG, SIGKILL);
      if (::getppid() != parent) ::_exit(1);
      ::signal(SIGINT, SIG_IGN);
      ::signal(SIGHUP, SIG_IGN);
      ::signal(SIGTERM, SIG_DFL);
      for (const Worker& other : workers_) ::close(other.socket);
      ::close(ends[0]);
      serve(ends[1], options_, pool_);
    }
    ::close(ends[1]);
    workers_.push_back({process, ends[0]});
    hand_out(workers_.back());
    return true;
  }

  bool no_room() const {
    if (workers_.empty()) throw std::system_error(errno, std::generic_category(), "no worker could be started");
    return false;
  }

  void hand_out(Worker& w) {
    const std::uint64_t task = waiting_.front();
    waiting_.pop_front();
    w.task = task;
    w.share = 0;
    send_all(w.socket, &task, sizeof task);  // to a dead worker: listen() will find it so
  }

  void listen() {
    std::vector<pollfd> ready;
    for (const Worker& w : workers_) ready.push_back({w.socket, POLLIN, 0});
    if (::poll(ready.data(), ready.size(), tick_ms) <= 0) return;
    std::size_t i = 0;
    for (auto w = workers_.begin(); w != workers_.end(); ++i) {
      const bool keep = ready[i].revents == 0 || hear(*w);
      if (keep) {
        ++w;
      } else {
        w = workers_.erase(w);
      }
    }
    if (lost_) throw WorkerLost(*lost_);
  }

  /// False where the worker is gone.
  bool hear(Worker& w) {
    char buffer[1 << 16];
    const ssize_t got = ::recv(w.socket, buffer, sizeof buffer, MSG_DONTWAIT);
    if (got < 0 && (errno == EINTR || errno == EAGAIN)) return true;
    if (got <= 0) return bury(w);
    w.unread.append(buffer, static_cast<std::size_t>(got));
    for (;;) {
      Header header;
      if (w.unread.size() < sizeof header) return true;
      std::memcpy(&header, w.unread.data(), sizeof header);
      if (w.unread.size() < sizeof header + header.size) return true;
      std::string bytes = w.unread.substr(sizeof header, header.size);
      w.unread.erase(0, sizeof header + header.size);
      if (header.kind == Kind::share) {
        std::memcpy(&w.share, bytes.data(), sizeof w.share);
        continue;
      }
      if (header.kind == Kind::so_far) {
        if (pool_.so_far) pool_.so_far(*w.task, std::move(bytes));
        continue;
      }
      const std::size_t task = *w.task;
      w.task.reset();
      w.share = 0;
      --left_;
      if (header.kind == Kind::failed || header.kind == Kind::failed_and_worn_out) {
        pool_.failed(task, bytes);
      } else {
        pool_.done(task, std::move(bytes));
      }
      const bool worn_out = header.kind == Kind::done_and_worn_out || header.kind == Kind::failed_and_worn_out;
      if (worn_out || waiting_.empty()) {
        reap(w);
        return false;
      }
      hand_out(w);
    }
  }

  bool bury(const Worker& w) {
    const int status = reap(w);
    const std::size_t task = *w.task;
    if (++deaths_[task] >= most_deaths) lost_.emplace(task, how_it_ended(status));
    waiting_.push_front(task);
    return false;
  }

  /// Closes the socket, at which a worker that waits ends, and waits for its end.
  static int reap(const Worker& w) {
    ::close(w.socket);
    int status = 0;
    while (::waitpid(w.process, &status, 0) < 0 && errno == EINTR) continue;
    return status;
  }

  const PoolWork& pool_;
  const WorkerOptions& options_;
  const TimeLimit& limit_;
  std::size_t left_;
  std::vector<int> deaths_;
  std::deque<std::size_t> waiting_;
  std::list<Worker> workers_;
  std::optional<WorkerLost> lost_;
};

}  // namespace

void run_in_workers(std::size_t tasks, const WorkerOptions& options, const PoolWork& pool, const TimeLimit& limit) {
  Pool(tasks, options, pool, limit).run();
}

}  // namespace overwinter
