# HiGHS is asked small questions here and is slow to compile at its own
# settings: less optimization, and several files at a time.
set(CMAKE_CXX_FLAGS_RELEASE "-O1 -DNDEBUG" CACHE STRING "" FORCE)
set(CMAKE_UNITY_BUILD ON CACHE BOOL "" FORCE)
set(CMAKE_UNITY_BUILD_BATCH_SIZE 12 CACHE STRING "" FORCE)
