// Every block that this program gives back to the heap is overwritten first: answers of a phone pass through
// receive buffers, packets, strings and coroutine frames, and no list of places to wipe by hand would stay
// complete. Replaces the deallocation functions of the whole program ([replacement.functions] in the C++
// standard); blocks come from malloc, whose usable size glibc tells. README.md says what this does not cover.
#include <malloc.h>
#include <string.h>

#include <cstdlib>
#include <new>

#if !defined(__SANITIZE_ADDRESS__) && !defined(__SANITIZE_THREAD__)
namespace {
void give_back(void* block) noexcept {
  if (block == nullptr) return;
  explicit_bzero(block, malloc_usable_size(block));
  std::free(block);
}
}  // namespace

void operator delete(void* p) noexcept { give_back(p); }
void operator delete[](void* p) noexcept { give_back(p); }
void operator delete(void* p, std::size_t) noexcept { give_back(p); }
void operator delete[](void* p, std::size_t) noexcept { give_back(p); }
void operator delete(void* p, const std::nothrow_t&) noexcept { give_back(p); }
void operator delete[](void* p, const std::nothrow_t&) noexcept { give_back(p); }
void operator delete(void* p, std::align_val_t) noexcept { give_back(p); }
void operator delete[](void* p, std::align_val_t) noexcept { give_back(p); }
void operator delete(void* p, std::size_t, std::align_val_t) noexcept { give_back(p); }
void operator delete[](void* p, std::size_t, std::align_val_t) noexcept { give_back(p); }
#endif
